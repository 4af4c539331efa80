"""The console script as its user meets it: words in; status, standard output and error out."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import pytest

from firmware_py.commands.main import main

TESTS = Path(__file__).resolve().parents[1]
LAYOUT = TESTS / "tapes" / "quarry-landing.toml"
TAPES = sorted((TESTS / "tapes").glob("*.jsonl"))
EXPECTED = TESTS / "tapes" / "expected"
BROKEN_LAYOUTS = sorted((TESTS / "broken_layouts").glob("*.toml"))


@dataclass(frozen=True)
class Outcome:
    """What one run of the console script left behind."""

    status: int
    out: str
    err: str


class Console:
    """Runs the console script in this process."""

    def __init__(self, capsys: pytest.CaptureFixture[str]) -> None:
        self._capsys = capsys

    def __call__(self, *words: str | Path) -> Outcome:
        """Run ``spurlock`` with these words."""
        self._capsys.readouterr()
        try:
            status = main([str(word) for word in words])
        except SystemExit as exit_:
            # Only argparse ends this way: after --help, or for words that it can't take.
            status = exit_.code if isinstance(exit_.code, int) else 1
        told = self._capsys.readouterr()
        return Outcome(status, told.out, told.err)

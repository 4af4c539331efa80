"""The core against the oracle, which reads the same rulebook a second time and shares no code.

Where they differ, one of them is wrong, or the rulebook is silent. `python -m
tests.oracle.compare FROM TO` does the same for as many scenes as there is patience.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from . import compare

TAPES = Path(__file__).resolve().parent.parent / "tapes"
AT_ONCE = 10


@pytest.mark.parametrize("first", range(0, 150, AT_ONCE))
def test_random_scenes(first: int) -> None:
    for seed in range(first, first + AT_ONCE):
        found = compare.difference(seed)
        assert found is None, found


@pytest.mark.parametrize("tape", sorted(TAPES.glob("*.jsonl")), ids=lambda path: path.stem)
def test_sample_tapes(tape: Path) -> None:
    """The sample tapes with their outputs, which the lines expected of them leave out."""
    toml = (TAPES / "quarry-landing.toml").read_text()
    lines = [json.loads(line) for line in tape.read_text().splitlines()]
    assert compare.core_lines(toml, lines) == compare.oracle_lines(toml, lines)


def test_shrinking_leaves_what_makes_the_difference(monkeypatch: pytest.MonkeyPatch) -> None:
    """With a core that knows no acknowledging, the command and a violation must be left."""
    honest = compare.core_lines

    def broken(toml: str, lines: list[dict[str, Any]]) -> list[dict[str, Any]]:
        return honest(toml, [line for line in lines if line.get("command") != "acknowledge"])

    monkeypatch.setattr(compare, "core_lines", broken)
    toml = (TAPES / "quarry-landing.toml").read_text()
    tape: list[dict[str, Any]] = [
        {"t": 1, "contact": "kiln-flag.rack", "made": True},
        {"t": 2, "command": "ask", "spur": "kiln"},
        {"t": 3, "command": "acknowledge", "violation": 7},
        {"t": 4, "contact": "kiln-gate.hasp", "made": False},
        {"t": 60, "end": True},
    ]
    assert compare.shrunk(toml, tape) == [tape[2]]
    assert "after 0 equal lines" in compare.report(toml, tape)


def test_the_command(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """It says how many differ, and prints those that do."""
    assert compare.main(["3", "5"]) == 0
    assert capsys.readouterr().out == "0 of 2 scenes differ\n"
    assert compare.main(["3"]) == 2
    monkeypatch.setattr(compare, "agrees", lambda found: False)
    monkeypatch.setattr(compare, "shrunk", lambda toml, lines: lines)
    assert compare.main(["3", "4"]) == 1
    printed = capsys.readouterr().out
    assert printed.startswith("seed 3\n[layout]")
    assert printed.endswith("1 of 1 scenes differ\n")


def test_a_core_that_raises_is_a_difference(monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(*_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(compare, "replay", fails)
    scene = compare.scene(3)
    assert not compare.agrees(scene)
    assert compare.core_lines(scene.toml, scene.lines)[-1]["error"] == "ZeroDivisionError()"

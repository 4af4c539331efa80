"""A short evening of kills; ``python -m tests.crash`` has the long one."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from tests.crash.evening import Evening, Figures

KILLS = 8


def an_evening(folder: Path) -> tuple[Figures, list[str]]:
    """One in which something was written; on a busy machine each life may end before that."""
    for seed in (3, 4, 5):
        own = folder / str(seed)
        own.mkdir()
        said: list[str] = []
        figures = Evening(own, seed=seed, pace=60.0, say=said.append).run(KILLS)
        if figures.entries:
            break
    return figures, said


@pytest.mark.skipif(sys.platform != "linux", reason="the appliance is a Linux one")
def test_eight_kills_lose_nothing(tmp_path: Path) -> None:
    figures, said = an_evening(tmp_path)
    assert figures.engine_kills == KILLS == len(said)
    assert figures.quiet_starts == 1
    assert figures.delivered >= figures.entries > 0
    assert figures.contacts_agreed > 0
    assert figures.stages_judged > 0

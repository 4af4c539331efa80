"""A short evening of kills; ``python -m tests.crash`` has the long one."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from tests.crash.evening import Evening

KILLS = 8


@pytest.mark.skipif(sys.platform != "linux", reason="the appliance is a Linux one")
def test_eight_kills_lose_nothing(tmp_path: Path) -> None:
    said: list[str] = []
    figures = Evening(tmp_path, seed=3, pace=60.0, say=said.append).run(KILLS)
    assert figures.engine_kills == KILLS == len(said)
    assert figures.quiet_starts == 1
    assert figures.delivered >= figures.entries > 0
    assert figures.contacts_agreed > 0
    assert figures.stages_judged > 0

"""Defects put in on purpose have to be found, and a seed has to mean the same everywhere."""

from __future__ import annotations

import os
import re
import subprocess
import sys

import pytest

from firmware_py.core import outputs
from firmware_py.core.names import Shows, Stage
from firmware_py.core.outputs import Look, OpenHere
from firmware_py.core.switch import Switch
from tests.simulation.__main__ import report
from tests.simulation.campaign import bench
from tests.simulation.script import script_of
from tests.simulation.session import Outcome


def green_whatever_is_open(switch: Switch, _open_here: OpenHere) -> Look:
    """A green lamp that takes no notice of violations."""

    def look() -> Shows:
        return Shows.STEADY if switch.stage is Stage.SECURED and not switch.faults else Shows.OFF

    return look


def first_broken(sessions: int) -> tuple[int, Outcome] | None:
    with bench() as played_on:
        for seed in range(sessions):
            outcome = played_on.play(script_of(seed))
            if outcome.broken is not None:
                return seed, outcome
    return None


def test_a_green_lamp_that_ignores_violations_is_found_and_told_of(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(outputs, "green", green_whatever_is_open)
    found = first_broken(50)
    assert found is not None
    seed, outcome = found
    told = list(report(seed, outcome))
    assert re.match(rf"seed {seed}: i1_green_is_true: .* with a violation unacknowledged", told[0])
    steps = re.match(r"shrunk to (\d+) steps: i1_green_is_true", told[1])
    assert steps is not None
    assert int(steps[1]) < len(script_of(seed).steps)
    tape = told[told.index("the tape:") + 1 : -1]
    assert tape
    assert told[-1].endswith(f"--from {seed}")


def digest(hash_seed: str) -> str:
    """Of some sessions, in a process and a folder of their own."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.simulation", "8", "--from", "77"],
        env=os.environ | {"PYTHONHASHSEED": hash_seed},
        capture_output=True,
        text=True,
        check=True,
    )
    found = re.search(r"digest (\w+)", done.stdout)
    assert found is not None
    return found[1]


def test_seeds_play_the_same_way_in_another_process() -> None:
    assert digest("1") == digest("2")

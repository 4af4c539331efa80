"""The oracle against the sample tapes and the lines expected of them."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path
from random import Random
from typing import Any

import pytest

from .oracle import replay
from .plan import read_plan
from .tapes_at_random import layout_as_toml, layout_at_random, scene_at_random

TAPES = Path(__file__).resolve().parent.parent / "tapes"
SAMPLES = sorted(TAPES.glob("*.jsonl"))


def read_lines(path: Path) -> list[dict[str, Any]]:
    """Read a JSON Lines file, blank lines left out."""
    return [json.loads(line) for line in path.read_text().splitlines() if line.strip()]


def test_there_are_samples() -> None:
    assert len(SAMPLES) == 6


@pytest.mark.parametrize("tape", SAMPLES, ids=lambda path: path.stem)
def test_sample(tape: Path) -> None:
    layout = tomllib.loads((TAPES / "quarry-landing.toml").read_text())
    assert replay(layout, read_lines(tape)) == read_lines(TAPES / "expected" / tape.name)


@pytest.mark.parametrize("seed", range(20))
def test_random_scene(seed: int) -> None:
    """A scene is the same for its seed, its TOML says the same, and its tape can be played."""
    layout, lines = scene_at_random(seed)
    assert (layout, lines) == scene_at_random(seed)
    assert tomllib.loads(layout_as_toml(layout)) == layout
    times = [line["t"] for line in lines]
    assert times == sorted(times)
    assert all(time == round(time, 6) for time in times)
    printed = replay(layout, lines, outputs=True)
    assert replay(layout, lines) == [line for line in printed if line["what"] != "output"]


@pytest.mark.parametrize("seed", range(50))
def test_random_orders(seed: int) -> None:
    """An order that a layout gives names exactly the protections of its spur."""
    layout = layout_at_random(Random(seed))
    for spur in layout.get("spur", []):
        own = {"opening": spur.pop("opening", None), "closing": spur.pop("closing", None)}
        default = read_plan(layout)
        for key, order in own.items():
            protections = (default.opening if key == "opening" else default.closing)[spur["id"]]
            assert order is None or sorted(order) == sorted(protections)


def quarry(lines: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Play some lines on the sample layout."""
    return replay(tomllib.loads((TAPES / "quarry-landing.toml").read_text()), lines)


def edges(contact: str, *times: float) -> list[dict[str, Any]]:
    """Change a contact at each of these times, to not made first."""
    return [{"t": t, "contact": contact, "made": n % 2 == 1} for n, t in enumerate(times)]


def test_settling_is_before_a_command_at_the_same_instant() -> None:
    """The hasp settles at 1.02, so the spur is opening when `work-done` comes then."""
    hasp = edges("kiln-switch.hasp", 1)
    early = quarry([*hasp, {"t": 1.019999, "command": "work-done", "spur": "kiln"}])
    in_time = quarry([*hasp, {"t": 1.02, "command": "work-done", "spur": "kiln"}])
    assert [line["what"] for line in early] == ["refused"]
    assert [line["what"] for line in in_time] == [
        "stage",
        "violation",
        "violation",
        "phase",
        "phase",
    ]


@pytest.mark.parametrize(("second", "expected"), [(11.0, 1), (11.000001, 2)])
def test_repeat_within_is_inclusive(second: float, expected: int) -> None:
    """The gate is forced twice, ten seconds apart, and a microsecond more."""
    found = quarry([*edges("kiln-gate.shut", 1, 5, second), {"t": 60, "end": True}])
    assert len([line for line in found if line["what"] == "violation"]) == expected


def test_twenty_edges_a_second_are_not_chattering() -> None:
    """An edge exactly one second old is not later than one second ago."""
    steady = quarry(edges("kiln-key.hook", *(1 + n / 20 for n in range(60))))
    assert not [line for line in steady if line["what"] == "fault"]
    faster = quarry(edges("kiln-key.hook", *(1 + n / 20.5 for n in range(60))))
    assert [line["fault"] for line in faster if line["what"] == "fault"] == ["chattering"]


def test_lost_blames_nobody() -> None:
    """A hasp that goes unknown and comes back open raises nothing, not even with the key home."""
    lost: list[dict[str, Any]] = [
        {"t": 1, "contact": "kiln-switch.hasp", "made": None},
        {"t": 2, "contact": "kiln-switch.hasp", "made": False},
        {"t": 3, "end": True},
    ]
    found = [(line["t"], line["what"]) for line in quarry(lost)]
    assert found == [(1.0, "fault"), (1.0, "stage"), (2.02, "fault"), (2.02, "phase")]

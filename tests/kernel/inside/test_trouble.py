"""Storms of edges, and a chip that goes and comes back."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from kernel.inside.guarding import Guarding, until
from kernel.inside.sim import SimChip

EDGES = 10_000
STORMY = range(10)
SWITCH = """
[[switch]]
id = "s{n}"
contacts = {{ hasp = "box:{a}", normal = "box:{b}", reverse = "box:{c}" }}
lamps = {{ green = "box:{d}", red = "box:{e}" }}
"""


TIMES = """
[times]
settle = 0.5
"""
"""What comes back finds its contacts open until a hand holds them anew: no time to settle."""


def layout() -> str:
    wires = [dict(zip("abcde", range(5 * n, 5 * n + 5), strict=True)) for n in range(5)]
    return TIMES + "".join(SWITCH.format(n=n, **wires[n]) for n in range(5))


@pytest.fixture
def guarding(tmp_path: Path, box: SimChip) -> Iterator[Guarding]:
    guarding = Guarding(tmp_path, layout(), {"box": box})
    guarding.rest(guarding.at_rest)
    with guarding:
        yield guarding


def test_nothing_is_lost_in_a_storm_of_edges(guarding: Guarding, box: SimChip) -> None:
    names = [f"s{n}.{role}" for n in range(4) for role in ("hasp", "normal", "reverse")]
    stormy, quiet = names[:10], names[10:]
    lines = [str(guarding.place(name)[1]) for name in stormy]
    storm = Path(__file__).with_name("storm.py")
    command = [sys.executable, "-I", "-S", str(storm), str(box.folder), str(EDGES), "1.0", *lines]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as child:
        for name in quiet:
            guarding.move(name, name not in guarding.at_rest)
        said, _ = child.communicate()
    print(f"{EDGES} edges in {float(said):.2f} s")
    # The storm's last pull was up on every line: not made, whatever it was before.
    for name in stormy:
        guarding.settles(name, False)
    for name in quiet:
        guarding.settles(name, name not in guarding.at_rest)
    heard = sum(guarding.standing(name).edges for name in stormy)
    assert heard > len(stormy), "it was a storm for the engine too"
    print(f"{heard} of them reached the engine; {guarding.remarks()}")
    assert {guarding.standing(f"s4.{role}").settled for role in ("hasp", "normal")} == {True}
    logged, replayed = guarding.replayed()
    assert replayed == logged


def test_a_chip_goes_away_and_comes_back(guarding: Guarding, box: SimChip) -> None:
    contacts = [f"s{n}.{role}" for n in range(5) for role in ("hasp", "normal", "reverse")]
    assert guarding.plant is not None
    board = guarding.plant.board
    greens = [5 * n + 3 for n in range(5)]
    until(lambda: all(box.value(line) for line in greens), "not all green to begin with")
    for _ in range(2):
        box.go_away()
        for name in contacts:
            guarding.settles(name, None)
        shown = board.shown()
        assert all(shown[f"s{n}", "green"] == "off" for n in range(5)), "nothing green on a guess"
        box.go_live()
        for name in contacts:
            guarding.settles(name, name in guarding.at_rest)
        until(
            lambda: all(box.value(line) for line in greens),
            f"its lamps were not lit again: {guarding.entries()}",
        )
        assert not any(box.value(5 * n + 4) for n in range(5)), "red with green"
    said = guarding.remarks()
    assert any("box" in remark for remark in said), said
    logged, replayed = guarding.replayed()
    assert replayed == logged

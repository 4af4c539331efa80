"""The sample tapes played by pulling lines, and the log compared with what they must give."""

from __future__ import annotations

import threading
from collections.abc import Iterator, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

import pytest

from kernel.inside.guarding import Guarding, Line
from kernel.inside.sim import SimChip
from kernel.inside.tapes import (
    LINES_OF_A_COPY,
    Player,
    Sample,
    layout_of,
    of_copy,
    sample,
    without_times,
)

# Chattering and a throw's bounces have times of the contact's own, so these play as they are.
AS_THEY_ARE = ("fast-and-noisy", "gapped", "thrown-early")
HURRIED = ("honest-job", "forced-points", "walked-away")
PACE = 20.0


@dataclass(frozen=True, slots=True)
class Played:
    """What came of a few tapes on one engine."""

    logged: list[Line]
    replayed: list[Line]


def start(guarding: Guarding, samples: Sequence[Sample], pace: float) -> list[threading.Thread]:
    def number(name: str, nth: int) -> int:
        lines = of_copy(name, (entry.line for entry in guarding.entries()))
        return int([x["number"] for x in lines if x["what"] == "violation"][nth - 1])

    players = [
        Player(one, pace, guarding.move, guarding.obey, lambda nth, n=one.name: number(n, nth))
        for one in samples
    ]
    threads = [threading.Thread(target=player.play) for player in players]
    for thread in threads:
        thread.start()
    return threads


def guard(samples: Sequence[Sample], chip: SimChip, pace: float, folder: Path) -> Guarding:
    folder.mkdir()
    guarding = Guarding(folder, layout_of(samples, chip.name, pace), {chip.name: chip})
    stands = dict.fromkeys(guarding.at_rest, True)
    for one in samples:
        stands |= one.standing
    guarding.rest(contact for contact, made in stands.items() if made)
    return guarding


@pytest.fixture(scope="module")
def played(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, Played]]:
    folder = tmp_path_factory.mktemp("tapes")
    with ExitStack() as stack:
        running = []
        for names, pace, chip_name in ((AS_THEY_ARE, 1.0, "steady"), (HURRIED, PACE, "hurried")):
            lines = LINES_OF_A_COPY * len(names)
            chip = stack.enter_context(SimChip(chip_name, lines, chip_name))
            samples = [sample(name) for name in names]
            guarding = stack.enter_context(guard(samples, chip, pace, folder / chip_name))
            running.append((names, guarding, samples, pace))
        threads = [
            t for _, guarding, samples, pace in running for t in start(guarding, samples, pace)
        ]
        for thread in threads:
            thread.join()
        yield {name: Played(*g.replayed()) for names, g, _, _ in running for name in names}


@pytest.mark.parametrize("name", AS_THEY_ARE + HURRIED)
def test_what_is_logged_is_what_the_tape_must_give(played: dict[str, Played], name: str) -> None:
    logged = without_times(of_copy(name, played[name].logged))
    assert logged == without_times(sample(name).expected)


@pytest.mark.parametrize("name", [AS_THEY_ARE[0], HURRIED[0]])
def test_the_log_replays_to_itself_to_the_microsecond(played: dict[str, Played], name: str) -> None:
    assert played[name].logged
    assert played[name].replayed == played[name].logged

import threading
from collections.abc import Iterator

import pytest

from firmware_py.pins.flasher import Flasher, Rate


class Lamp:
    def __init__(self) -> None:
        self.lit = None
        self.writes = []
        self.wrote = threading.Event()

    def light(self, lit: bool) -> None:
        self.lit = lit
        self.writes.append(lit)
        if len(self.writes) > 2:
            self.wrote.set()


class Clock:
    now_ns = 5_000_000_000

    def __call__(self) -> int:
        return self.now_ns


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def flasher(clock: Clock) -> Iterator[Flasher]:
    """Make a flasher whose own thread never runs: time is the test's."""
    made = Flasher(clock)
    made._start = lambda: None
    yield made
    made.close()


def at(flasher: Flasher, clock: Clock, since_ns: int) -> int | None:
    clock.now_ns = Clock.now_ns + since_ns
    return flasher.step(clock.now_ns)


def test_the_rates_lie_in_the_two_bands_with_half_the_time_on() -> None:
    """IEC 60073's bands as the rulebook's section 9 gives them, from secondary sources."""
    assert 0.4 <= 1e9 / (2 * Rate.SLOW.value) <= 0.8
    assert 1.4 <= 1e9 / (2 * Rate.FAST.value) <= 2.8


def test_a_lamp_lights_at_once_and_turns_over_each_half(flasher: Flasher, clock: Clock) -> None:
    lamp = Lamp()
    flasher.add(lamp, Rate.FAST)
    assert lamp.lit is True
    seen = []
    for halves in range(1, 5):
        at(flasher, clock, halves * 250_000_000 - 1)
        before = lamp.lit
        at(flasher, clock, halves * 250_000_000)
        seen.append((before, lamp.lit))
    assert seen == [(True, False), (False, True), (True, False), (False, True)]


def test_lamps_of_one_rate_are_in_step(flasher: Flasher, clock: Clock) -> None:
    first, second = Lamp(), Lamp()
    flasher.add(first, Rate.SLOW)
    at(flasher, clock, Rate.SLOW.value + 1)
    flasher.add(second, Rate.SLOW)
    assert (first.lit, second.lit) == (False, False)
    at(flasher, clock, 2 * Rate.SLOW.value)
    assert (first.lit, second.lit) == (True, True)


def test_the_next_turn_is_the_earliest_of_both_rates(flasher: Flasher, clock: Clock) -> None:
    flasher.add(Lamp(), Rate.SLOW)
    flasher.add(Lamp(), Rate.FAST)
    assert at(flasher, clock, 0) == Clock.now_ns + Rate.FAST.value
    assert at(flasher, clock, 600_000_000) == Clock.now_ns + Rate.SLOW.value


def test_nothing_is_due_while_no_lamp_flashes(flasher: Flasher, clock: Clock) -> None:
    lamp = Lamp()
    assert at(flasher, clock, 0) is None
    flasher.add(lamp, Rate.SLOW)
    flasher.remove(lamp)
    assert at(flasher, clock, 10**10) is None
    assert lamp.writes == [True]


def test_a_removed_lamp_is_not_touched_even_by_a_turn_that_has_begun(
    flasher: Flasher, clock: Clock
) -> None:
    second = Lamp()

    class Removes(Lamp):
        def light(self, lit: bool) -> None:
            super().light(lit)
            if len(self.writes) == 2:
                flasher.remove(second)

    flasher.add(Removes(), Rate.FAST)
    flasher.add(second, Rate.FAST)
    at(flasher, clock, Rate.FAST.value)
    assert second.writes == [True]


def test_missed_turns_leave_the_rhythm_as_it_was(flasher: Flasher, clock: Clock) -> None:
    lamp = Lamp()
    flasher.add(lamp, Rate.FAST)
    assert at(flasher, clock, 10 * Rate.FAST.value + 5) == Clock.now_ns + 11 * Rate.FAST.value
    assert lamp.writes == [True]


def test_adding_a_lamp_twice_changes_nothing(flasher: Flasher, clock: Clock) -> None:
    lamp = Lamp()
    flasher.add(lamp, Rate.FAST)
    flasher.add(lamp, Rate.FAST)
    assert lamp.writes == [True]


def test_its_own_thread_flashes_and_stops() -> None:
    flasher = Flasher()
    lamp = Lamp()
    flasher.add(Lamp(), Rate.SLOW)
    flasher.add(lamp, Rate.FAST)
    assert lamp.wrote.wait(20)
    flasher.close()
    count = len(lamp.writes)
    flasher.add(lamp, Rate.FAST)
    assert len(lamp.writes) == count
    assert not [thread for thread in threading.enumerate() if thread.name == "flasher"]

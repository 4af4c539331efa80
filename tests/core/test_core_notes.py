"""Notes for the logbook, and what a core says of itself."""

from __future__ import annotations

from core_bench import Bench, rich_layout

from firmware_py.core.event import Repeated, Settled

HASP, SHUT = "marl-switch.hasp", "marl-gate.shut"


def test_without_notes_there_are_none() -> None:
    bench = Bench(rich_layout())
    bench.settle(1, SHUT, False)
    assert bench.core.take_notes() == []


def test_settlings_are_noted() -> None:
    """Those of contacts at a switch, and of a key's hook that belongs to none."""
    bench = Bench(rich_layout(), notes=True)
    bench.settle(1, "marl-key.hook", False)
    bench.settle(2, HASP, False)
    assert bench.core.take_notes() == [
        Settled(1_020_000, "marl-key.hook", False),
        Settled(2_020_000, HASP, False),
    ]
    assert bench.core.take_notes() == []
    bench.read(3, HASP, None)
    assert bench.core.take_notes() == [Settled(3_000_000, HASP, None)]


def test_repeats_are_noted_with_their_times() -> None:
    bench = Bench(rich_layout(), notes=True)
    for second in range(3):
        bench.settle(1 + 2 * second, SHUT, False)
        bench.settle(2 + 2 * second, SHUT, True)
    repeats = [note for note in bench.core.take_notes() if isinstance(note, Repeated)]
    assert repeats == [Repeated(3_020_000, 1, 2), Repeated(5_020_000, 1, 3)]


def test_a_repeat_is_counted_from_the_last_time_counted_or_not() -> None:
    """Section 5. Ten seconds after the second time is twenty after the first, and still soon."""
    bench = Bench(rich_layout())
    new = "violation 1 gate-forced marl-gate marl"
    found = []
    for second in (1, 10, 19, 28, 39):
        found.append(bench.settle(second, SHUT, False))
        bench.settle(second + 1, SHUT, True)
    assert found == [[new], [], [], [], [new.replace("1", "2", 1)]]


def test_faults_and_settled_values() -> None:
    bench = Bench(rich_layout(), {"marl.detector": None, "ash-switch.reverse": True})
    expected = [("lost", "marl.detector"), ("points-disputed", "ash-switch")]
    assert bench.core.faults() == expected
    for edge in range(21):
        bench.read(1 + edge / 100, HASP, edge % 2 == 1)
    assert bench.core.faults() == [expected[0], ("chattering", HASP), expected[1]]
    settled = bench.core.settled()
    assert settled["marl.detector"] is None
    assert settled["ash-switch.reverse"] is settled[HASP] is True
    assert settled["marl-flag.rack"] is False


def test_the_raw_level_is_ahead_of_the_settled_value() -> None:
    core = Bench(rich_layout(), {"marl.detector": None}).core
    assert core.raw() == core.settled()
    core.reading(1, HASP, False)
    core.reading(1, SHUT, None)
    assert core.raw() == core.settled() | {HASP: False}
    assert core.settled()[HASP] is True


def test_everything_at_rest_by_default() -> None:
    """Section 10: hasps, ``normal``, ``shut``, ``on`` and ``hook`` made, all else not made."""
    made = {name for name, value in Bench(rich_layout()).core.settled().items() if value}
    roles = {name.partition(".")[2] for name in made}
    assert roles == {"hasp", "normal", "shut", "on", "hook"}
    assert len(made) == 12


def test_stages_phases_and_foremen_at_first() -> None:
    core = Bench(rich_layout()).core
    assert core.stages() == dict.fromkeys(["marl-switch", "ash-switch", "stub-switch"], "secured")
    assert core.phases() == dict.fromkeys(["marl", "lime", "ash"], ("idle", None))
    assert core.foremen() == {"marl": "not-asked", "lime": "not-asked"}
    assert core.deadline_us is None


def test_the_next_deadline_is_the_one_that_stands() -> None:
    """A contact that is back before it settled, and a switch locked again, want no more time."""
    core, hasp = Bench(rich_layout()).core, "stub-switch.hasp"
    core.reading(1_000_000, hasp, False)
    assert core.deadline_us == 1_020_000
    core.reading(1_010_000, hasp, True)
    assert core.deadline_us is None
    core.reading(2_000_000, hasp, False)
    core.advance(3_000_000)
    assert core.deadline_us == 22_020_000, "left unlocked for 20 s"
    core.reading(3_000_000, hasp, True)
    assert core.deadline_us == 3_020_000
    core.advance(3_020_000)
    assert core.deadline_us is None

"""Stopping and going on, skipping, repeating a stand, and what is measured."""

from __future__ import annotations

from collections.abc import Callable

import msgspec
import pytest

from firmware_py.commissioning.commission import Commission
from firmware_py.commissioning.evidence import bursts_of
from firmware_py.commissioning.model import Answer, Evidence, Kind, Said, Step
from firmware_py.commissioning.naming import settle_for
from firmware_py.commissioning.record import condition, repairs, results
from firmware_py.commissioning.watching import Watch

from .bench import Bench
from .faults import Fault, Wrong
from .layouts import kiln

HASP, NORMAL, HOOK = "kiln-switch.hasp", "kiln-switch.normal", "kiln-key.hook"
RED = "red of kiln-switch"
SWAP = Wrong(Fault.SWAP, (HASP, HOOK))


def until(bench: Bench, step: Step, about: str | None = None) -> Callable[[], bool]:
    def there() -> bool:
        asked = bench.commission.instruction
        return asked.step is step and about in (None, asked.about)

    return there


def test_nothing_is_found_before_all_wires_are_through() -> None:
    bench = Bench(kiln(), [SWAP], 1)
    bench.run(until(bench, Step.MAKE, HOOK))
    assert bench.commission.findings() == ()
    assert [one.kind for one in bench.run()] == [Kind.SWAPPED]


def test_what_was_saved_goes_on_and_asks_nothing_twice() -> None:
    first = Bench(kiln(), [SWAP], 1)
    first.run(until(first, Step.MAKE, HOOK))
    saved = msgspec.json.encode(first.commission.evidence)
    second = Bench(kiln(), [SWAP], 2, msgspec.json.decode(saved, type=Evidence))
    assert second.commission.instruction.step is Step.PREPARE
    assert second.commission.instruction.done == first.commission.instruction.done > 6
    asked: set[str | None] = set()

    def noted() -> bool:
        asked.add(second.commission.instruction.about)
        return False

    found = second.run(noted)
    assert [(one.kind, one.names) for one in found] == [(Kind.SWAPPED, (HASP, HOOK))]
    assert asked == {None, HOOK}


def test_wires_that_were_moved_to_other_pins_are_tested_anew() -> None:
    bench = Bench(kiln(), [], 1)
    bench.run()
    evidence = bench.commission.evidence
    evidence.pins[HASP] = "GPIO 4"
    again = Commission(kiln(), 0, {}, evidence)
    assert HASP not in again.evidence.tested
    assert NORMAL in again.evidence.tested
    assert HASP in evidence.tested, "the saved evidence is not touched"


def test_a_stand_is_repeated_after_a_repair_with_what_was_found_together_with_it() -> None:
    bench = Bench(kiln(), [SWAP], 1)
    bench.run()
    commission = bench.commission
    bench.solder([])
    again = commission.repeat("key board", bench.now_us)
    assert again == (HASP, HOOK), "the other end of the swap is stale as well"
    assert commission.instruction.step is Step.PREPARE
    assert bench.run() == ()
    assert "mended: kiln-switch.hasp and kiln-key.hook are swapped" in repairs(commission)
    assert condition(commission) == "in order"


def test_a_repair_that_made_it_worse_is_found() -> None:
    bench = Bench(kiln(), [Wrong(Fault.OPEN, (HASP,))], 1)
    bench.run()
    bench.solder([Wrong(Fault.SHORT, (HASP, NORMAL))])
    bench.commission.repeat("kiln-switch", bench.now_us)
    assert [(one.kind, one.names) for one in bench.run()] == [(Kind.TOGETHER, (HASP, NORMAL))]


def test_there_is_no_such_stand() -> None:
    bench = Bench(kiln(), [], 1)
    assert bench.commission.repeat("mill", 5) == ()
    assert bench.commission.instruction.number == 1


def test_skipped_wires_are_not_tested_and_not_judged() -> None:
    bench = Bench(kiln(), [Wrong(Fault.OPEN, (HASP,))], 1)
    bench.run(until(bench, Step.MAKE, HASP))
    asked = bench.commission.instruction
    bench.commission.answer(Answer(asked.number, Said.SKIP), bench.now_us)
    assert bench.run() == ()
    assert "kiln-switch.hasp: not tested" in results(bench.commission)
    assert condition(bench.commission) == "in order, but 1 wire not tested"


def test_a_wire_at_the_pin_of_a_skipped_one_is_named_so() -> None:
    bench = Bench(kiln(), [SWAP], 1)
    bench.run(until(bench, Step.MAKE, HASP))
    asked = bench.commission.instruction
    bench.commission.answer(Answer(asked.number, Said.SKIP), bench.now_us)
    [found] = bench.run()
    assert (found.kind, found.names) == (Kind.ELSEWHERE, (HOOK, HASP))
    assert found.do == "test kiln-switch.hasp as well, then this one again"


def test_two_leads_at_one_pin_are_told_as_that() -> None:
    bench = Bench(kiln(), [], 1)
    harness = bench.harness
    harness.ends[HOOK] = HASP
    harness.net[HASP], harness.net[HOOK] = {HASP, HOOK}, set()
    found = {one.kind: one for one in bench.run()}
    elsewhere = found[Kind.ELSEWHERE]
    assert elsewhere.names == (HOOK, HASP)
    assert elsewhere.text.endswith("kiln-switch.hasp ends there too")
    assert elsewhere.do == "put the wire of kiln-key.hook on its own pin"


def test_the_end_can_be_called_early() -> None:
    bench = Bench(kiln(), [], 1)
    bench.run(until(bench, Step.MAKE, NORMAL))
    bench.commission.end(bench.now_us)
    assert bench.commission.complete
    assert condition(bench.commission) == "in order, but 9 wires not tested"


def test_an_answer_that_comes_too_late_is_ignored() -> None:
    commission = Commission(kiln(), 0, {})
    for number in (0, 2):
        commission.answer(Answer(number, Said.DONE), 5)
        assert commission.waits
    commission.answer(Answer(1, Said.SEEN, (RED,)), 5)
    assert commission.waits
    commission.answer(Answer(1, Said.DONE), 5)
    assert not commission.waits


def test_a_contact_that_moves_as_it_should_needs_no_answer() -> None:
    bench = Bench(kiln(), [], 1)
    bench.run()
    # At the beginning, and for the dark and each of three lamps.
    assert bench.answers == 1 + 1 + 3


def test_the_builder_is_asked_once_more_where_nothing_moved() -> None:
    bench = Bench(kiln(), [Wrong(Fault.OPEN, (HASP,))], 1)
    bench.run(lambda: bench.commission.instruction.again)
    asked = bench.commission.instruction
    assert (asked.step, asked.about, asked.remark) == (Step.MAKE, HASP, "nothing moved")


def test_bounce_is_measured_and_the_proposed_settle_time_outlasts_it() -> None:
    bench = Bench(kiln(), [Wrong(Fault.BOUNCE, (HASP,))], 3)
    [found] = bench.run()
    longest = max(one.us for one in bursts_of(bench.commission.evidence, HASP, (HASP,)))
    assert found.longest_us == longest >= 30_000
    assert found.settle_us is not None
    assert found.settle_us >= 2 * longest
    assert f"settle = {found.settle_us / 1e6:g}" in found.do


@pytest.mark.parametrize(("bounce", "settle"), [(0, 10), (5_000, 10), (5_001, 20), (6_200, 20)])
def test_settle_times_are_twice_the_bounce_in_whole_tens(bounce: int, settle: int) -> None:
    """6.2 ms is Ganssle's longest; the layout's default of 20 ms is what it comes to."""
    assert settle_for(bounce) == settle * 1000


def test_a_contact_whose_chip_does_not_answer_is_lost_and_nothing_else() -> None:
    bench = Bench(kiln(), [], 1)
    bench.factory.hand(bench.contacts[HASP], None)
    bench._update = lambda sensor: (  # type: ignore[method-assign]  # its chip stays dead
        None if sensor == HASP else Bench._update(bench, sensor)
    )
    assert [(one.kind, one.names) for one in bench.run()] == [(Kind.LOST, (HASP,))]


def test_a_move_is_the_burst_that_changes_the_level() -> None:
    watch = Watch({"a": False}, 0)
    level = False
    for t_us in (100_000, 103_000, 500_000, 504_000, 509_000, 900_000, 901_000):
        level = not level
        watch.edge(t_us, "a", level)
    move = watch.move("a")
    assert move is not None
    assert (move.us, move.edges, watch.edges("a")) == (9_000, 3, 7)


def test_a_level_is_what_stood_for_most_of_the_time() -> None:
    watch = Watch({"a": False, "b": False}, 0)
    for t_us, made in ((10, True), (80, False), (90, True)):
        watch.edge(t_us, "a", made)
    watch.edge(50, "b", None)
    assert watch.standing(0, 100) == {"a": True, "b": None}
    assert watch.standing(70, 92) == {"a": True, "b": None}
    assert watch.standing(78, 92) == {"a": False, "b": None}

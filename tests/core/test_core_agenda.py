"""The agenda by itself: timers that are set, moved, cleared, and due at one instant."""

from __future__ import annotations

from random import Random

from firmware_py.core.agenda import Agenda, Due, Timer, rank_all


class Bell:
    """An agenda with some timers that write down when they rang."""

    def __init__(self, *names: tuple[Due, str]) -> None:
        self.agenda = Agenda()
        self.rung: list[str] = []
        self.timers = {name: self.timer(kind, name) for kind, name in names}
        rank_all(self.timers.values())

    def timer(self, kind: Due, name: str) -> Timer:
        return Timer(self.agenda, kind, name, lambda: self.rung.append(name))

    def run(self, until_us: int) -> list[tuple[int, str]]:
        """Serve what is due, the way the core does."""
        found = []
        while (due := self.agenda.next_us()) is not None and due <= until_us:
            timer = self.agenda.pop()
            if timer is not None:
                assert timer.due_us is None, "served, it is not due any more"
                timer.fire()
                found.append((due, self.rung[-1]))
        return found


def test_an_empty_agenda_wants_nothing() -> None:
    assert Bell().agenda.next_us() is None


def test_timers_are_served_in_time() -> None:
    bell = Bell((Due.GAPPED, "a"), (Due.GAPPED, "b"))
    bell.timers["a"].set(20)
    bell.timers["b"].set(10)
    assert bell.agenda.next_us() == 10
    assert bell.run(19) == [(10, "b")]
    assert bell.agenda.next_us() == 20
    assert bell.run(20) == [(20, "a")]
    assert bell.agenda.next_us() is None


def test_at_one_instant_the_kind_goes_before_the_name() -> None:
    """Section 3: settlings by contact name, then the other kinds in order, each by id."""
    bell = Bell(
        *[(kind, f"{kind.name}-a") for kind in reversed(Due)],
        *[(kind, f"{kind.name}-b") for kind in reversed(Due)],
    )
    for timer in bell.timers.values():
        timer.set(7)
    kinds = ["SETTLING", "GAPPED", "LEFT_LINED", "LEFT_UNLOCKED", "RETURN", "BRAKE_TEST",
             "QUIET", "BUZZER", "TRAP_LAMP"]  # fmt: skip
    expected = [f"{kind}-{letter}" for kind in kinds for letter in "ab"]
    assert [name for _, name in bell.run(7)] == expected


def test_a_cleared_timer_is_not_served() -> None:
    bell = Bell((Due.GAPPED, "a"))
    bell.timers["a"].set(5)
    bell.timers["a"].clear()
    assert bell.agenda.next_us() is None
    assert bell.run(100) == []


def test_a_timer_is_served_once_where_it_was_moved_to() -> None:
    """Later, earlier, and back again: only the last word counts."""
    bell = Bell((Due.GAPPED, "a"))
    timer = bell.timers["a"]
    for due in (10, 20, 5, 30, 10):
        timer.set(due)
        assert bell.agenda.next_us() == due
    assert bell.run(100) == [(10, "a")]


def test_an_old_place_in_the_heap_comes_up_after_its_timer_was_served() -> None:
    """Set for 10, moved to 5, served there, set for 10 once more: two places, one service."""
    bell = Bell((Due.GAPPED, "a"))
    timer = bell.timers["a"]
    timer.set(10)
    timer.set(5)
    assert bell.run(5) == [(5, "a")]
    timer.set(10)
    assert bell.run(10) == [(10, "a")]
    assert bell.run(100) == []


def test_any_timers_against_a_plain_list() -> None:
    """Timers set, cleared and served at random, against a search for the earliest of them."""
    dice = Random(1)
    bell = Bell(*[(kind, f"{kind.name}-{n}") for kind in Due for n in range(3)])
    plain: dict[str, int] = {}
    now = 0
    for _ in range(5000):
        name = dice.choice(sorted(bell.timers))
        timer = bell.timers[name]
        match dice.randrange(4):
            case 0:
                timer.clear()
                plain.pop(name, None)
            case 1:
                now += dice.randrange(3)
                due = sorted(
                    (at, bell.timers[who].rank, who) for who, at in plain.items() if at <= now
                )
                assert bell.run(now) == [(at, who) for at, _, who in due]
                plain = {who: at for who, at in plain.items() if at > now}
            case _:
                at = now + 1 + dice.randrange(12)
                timer.set(at)
                plain[name] = at
        assert bell.agenda.next_us() == min(plain.values(), default=None)


def test_a_timer_set_again_for_where_a_stale_item_waits_fires_there_once() -> None:
    agenda, fired = Agenda(), []
    timer = Timer(agenda, Due.GAPPED, "kiln-switch", lambda: fired.append(timer.fired_us))
    timer.set(100)
    timer.set(50)
    for now_us in (50, 100):
        while agenda.heap and agenda.heap[0][0] <= now_us:
            due = agenda.pop()
            if due is not None:
                due.fire()
        timer.set(100)
        assert agenda.next_us() == 100
    assert fired == [50, 100]

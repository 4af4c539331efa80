"""Which order makes sense when, and what it does (the table of rulebook section 8).

Each ruling answers ``None`` and acts, or answers why the order is refused and changes nothing.
"""

from __future__ import annotations

from collections.abc import Callable

from firmware_py.core.names import Command, Foreman, Phase
from firmware_py.core.orders import Order
from firmware_py.core.pace import brake_test_seconds
from firmware_py.core.spur import Spur

_ASKED_ALREADY = {
    Foreman.ASKED: "the foreman is asked already",
    Foreman.HELD: "the foreman is asked already, and has said not yet",
    Foreman.RELEASED: "the foreman has released the spur already",
}
_NOT_TO_BE_HELD = {
    Foreman.NOT_ASKED: "nobody asked",
    Foreman.HELD: "the foreman has said not yet already",
    Foreman.RELEASED: _ASKED_ALREADY[Foreman.RELEASED],
}
_NOT_AT_WORK = {
    Phase.IDLE: "no work is going on there",
    Phase.CLOSING: "the work there is done already",
}

Ruling = Callable[[Spur], str | None]


def rule_on(spur: Spur, order: Order, wait_ratio: float) -> str | None:
    """Carry out ``order`` at ``spur``, or answer why not."""
    if order.command is Command.START_BRAKE_TEST:
        return _start_brake_test(spur, order.cars or 0, wait_ratio)
    return RULINGS[order.command](spur)


def _ask(spur: Spur) -> str | None:
    if spur.foreman is None and spur.phase is not Phase.IDLE:
        return "the spur is being worked already"
    if spur.says is not Foreman.NOT_ASKED:
        return _ASKED_ALREADY[spur.says]
    spur.ask()
    return None


def _hold(spur: Spur) -> str | None:
    if spur.says is Foreman.ASKED:
        spur.say(Foreman.HELD)
        return None
    return _NOT_TO_BE_HELD[spur.says]


def _release(spur: Spur) -> str | None:
    if spur.says is Foreman.NOT_ASKED:
        return "nobody asked"
    if spur.says is Foreman.RELEASED:
        return _ASKED_ALREADY[Foreman.RELEASED]
    spur.release()
    return None


def _hand_back(spur: Spur) -> str | None:
    if spur.says is not Foreman.RELEASED:
        return "the foreman has not released the spur"
    spur.hand_back()
    return None


def _work_done(spur: Spur) -> str | None:
    if spur.phase in _NOT_AT_WORK:
        return _NOT_AT_WORK[spur.phase]
    spur.end_work()
    return None


def _start_brake_test(spur: Spur, cars: int, wait_ratio: float) -> str | None:
    if spur.phase is Phase.IDLE:
        return _NOT_AT_WORK[Phase.IDLE]
    if spur.testing:
        return "a brake test runs there already"
    if cars < 1:
        return "a brake test needs at least one car"
    spur.start_test(cars, brake_test_seconds(cars, wait_ratio))
    return None


RULINGS: dict[Command, Ruling] = {
    Command.ASK: _ask,
    Command.HOLD: _hold,
    Command.RELEASE: _release,
    Command.HAND_BACK: _hand_back,
    Command.WORK_DONE: _work_done,
}

"""The locking order as a state machine of its own, built with ``transitions``.

It knows nothing of contacts, settling or of how the core works out a stage: only the five stages,
the one off the order, and what a hand at a lock, a hand at a switch stand and a train can do.
Written from the rulebook's table of stages (section 4).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from transitions import Machine


class Trigger(StrEnum):
    """What a hand or a train does."""

    HASP_OPENS = "hasp_opens"
    HASP_CLOSES = "hasp_closes"
    POINTS_TO_REVERSE = "points_to_reverse"
    POINTS_TO_NORMAL = "points_to_normal"
    POINTS_BETWEEN = "points_between"
    POINTS_DISPUTED = "points_disputed"
    OCCUPIED = "occupied"
    CLEAR = "clear"


STATES = ["secured", "unlocked", "lined", "in-use", "restored", "irregular"]
UNLOCKED = ["unlocked", "lined", "in-use", "restored"]
ASTRAY = [Trigger.POINTS_BETWEEN, Trigger.POINTS_DISPUTED]

Row = dict[str, Any]


def _row(trigger: Trigger, source: str | list[str], dest: str | None, **conditions: str) -> Row:
    """One transition; ``dest`` of ``None`` keeps the state."""
    return {"trigger": trigger, "source": source, "dest": dest, **conditions}


PADLOCKED: list[Row] = [
    # Unlock.
    _row(Trigger.HASP_OPENS, "secured", "unlocked"),
    _row(Trigger.HASP_OPENS, "irregular", "in-use", conditions="reverse_under_train"),
    _row(Trigger.HASP_OPENS, "irregular", "lined", conditions="lies_reverse"),
    _row(Trigger.HASP_OPENS, "irregular", "unlocked"),
    # Line; lined anew each time, whatever the switch was before.
    _row(Trigger.POINTS_TO_REVERSE, UNLOCKED, "in-use", conditions="has_train"),
    _row(Trigger.POINTS_TO_REVERSE, UNLOCKED, "lined"),
    # Use.
    _row(Trigger.OCCUPIED, "lined", "in-use", conditions="lies_reverse"),
    _row(Trigger.OCCUPIED, "*", None),
    _row(Trigger.CLEAR, "*", None),
    # Restore.
    _row(Trigger.POINTS_TO_NORMAL, ["lined", "in-use", "restored"], "restored"),
    _row(Trigger.POINTS_TO_NORMAL, "unlocked", None),
    # Relock.
    _row(Trigger.HASP_CLOSES, UNLOCKED, "secured", conditions="lies_normal"),
    _row(Trigger.HASP_CLOSES, UNLOCKED, "irregular"),
    # Points on their way keep the stage, as long as no lock says that they can't be moving.
    *(_row(trigger, UNLOCKED, None) for trigger in ASTRAY),
    # Points that move under a closed lock.
    *(_row(trigger, "secured", "irregular") for trigger in ASTRAY),
    _row(Trigger.POINTS_TO_REVERSE, "secured", "irregular"),
    *(_row(trigger, "irregular", None) for trigger in ASTRAY),
    _row(Trigger.POINTS_TO_REVERSE, "irregular", None),
    _row(Trigger.POINTS_TO_NORMAL, ["secured", "irregular"], "secured"),
]

WITHOUT_LOCK: list[Row] = [
    _row(Trigger.POINTS_TO_REVERSE, "*", "in-use", conditions="has_train"),
    _row(Trigger.POINTS_TO_REVERSE, "*", "lined"),
    _row(Trigger.OCCUPIED, "lined", "in-use", conditions="lies_reverse"),
    _row(Trigger.OCCUPIED, "*", None),
    _row(Trigger.CLEAR, "*", None),
    _row(Trigger.POINTS_TO_NORMAL, "*", "secured"),
    *(_row(trigger, "*", None) for trigger in ASTRAY),
]


@dataclass(frozen=True)
class Start:
    """How a switch stands as a session begins; at rest, if nothing else is said."""

    locked: bool = True
    points: Trigger = Trigger.POINTS_TO_NORMAL
    train: bool = False

    def stage(self, *, padlocked: bool) -> str:
        """The stage it begins in. Points that lie reverse were lined as they came to lie so."""
        if padlocked and self.locked:
            return "secured" if self.points is Trigger.POINTS_TO_NORMAL else "irregular"
        if self.points is Trigger.POINTS_TO_REVERSE:
            return "in-use" if self.train else "lined"
        if padlocked:
            return "unlocked"
        return "secured" if self.points is Trigger.POINTS_TO_NORMAL else "lined"


class LockingOrder:
    """One switch; ``state`` is its stage.

    ``points`` is the last of the points' triggers, ``has_train`` whether the section is occupied,
    ``locked`` is ``None`` for a switch without a padlock.
    """

    state: str

    def __init__(self, *, padlocked: bool, start: Start | None = None) -> None:
        begins = start or Start()
        self.points = begins.points
        self.train = begins.train
        self.locked: bool | None = begins.locked if padlocked else None
        self._machine = Machine(
            self,
            states=STATES,
            initial=begins.stage(padlocked=padlocked),
            transitions=PADLOCKED if padlocked else WITHOUT_LOCK,
            auto_transitions=False,
            send_event=True,
        )

    def pull(self, trigger: Trigger) -> str:
        """Do what the trigger says; the answer is the stage after it."""
        getattr(self, trigger.value)()
        self._remember(trigger)
        return self.state

    def possible(self, trigger: Trigger) -> bool:
        """Whether a hand or a train could do it now, and would change anything by it.

        Points can't come from between to disputed or back in one step: of two contacts one is
        always first, and with one of them made the points lie somewhere.
        """
        match trigger:
            case Trigger.HASP_OPENS:
                return self.locked is True
            case Trigger.HASP_CLOSES:
                return self.locked is False
            case Trigger.OCCUPIED:
                return not self.train
            case Trigger.CLEAR:
                return self.train
            case _:
                astray = trigger in ASTRAY and self.points in ASTRAY
                return trigger is not self.points and not astray

    # What the transitions ask; each takes the event, which none of them needs.

    def has_train(self, _event: object) -> bool:
        """Whether the section over the points is occupied."""
        return self.train

    def lies_normal(self, _event: object) -> bool:
        """Whether the points lie normal."""
        return self.points is Trigger.POINTS_TO_NORMAL

    def lies_reverse(self, _event: object) -> bool:
        """Whether the points lie reverse."""
        return self.points is Trigger.POINTS_TO_REVERSE

    def reverse_under_train(self, event: object) -> bool:
        """Whether they lie reverse with the section occupied."""
        return self.lies_reverse(event) and self.has_train(event)

    def _remember(self, trigger: Trigger) -> None:
        match trigger:
            case Trigger.HASP_OPENS | Trigger.HASP_CLOSES:
                self.locked = trigger is Trigger.HASP_CLOSES
            case Trigger.OCCUPIED | Trigger.CLEAR:
                self.train = trigger is Trigger.OCCUPIED
            case _:
                self.points = trigger

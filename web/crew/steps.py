"""The records of a job's steps and buttons, and how the crew's own steps are made. Pure."""

from __future__ import annotations

import msgspec

from firmware_py.logbook.screen.jobs import Job
from firmware_py.logbook.screen.ticks import Step
from web.crew import own
from web.crew.words import OWN, Words
from web.live.sources import Source


class Next(msgspec.Struct, frozen=True):
    """A step. ``kind`` is ``do`` (a contact sees it), ``wait``, ``tick``, ``work`` or ``done``.

    ``passes`` says that for somebody alone it goes on by itself after a pause: no contact sees
    it. ``at_stand`` says that the stand's own button goes on: it asks, or it ends the work.
    """

    id: str
    kind: str
    says: str
    how: str = ""
    why: str = ""
    source: Source | None = None
    passes: bool = False
    at_stand: bool = False

    @classmethod
    def of(cls, ident: str, kind: str, says: str, words: Words) -> Next:
        """A step with its words."""
        return cls(ident, kind, says, words.how, words.why, words.source)


class Action(msgspec.Struct, frozen=True, omit_defaults=True):
    """A button: an order (``command`` for ``spur``) or a tick (``step`` of ``stop``).

    ``main`` is the one that goes on. ``cars`` is what a brake test is offered for at first.
    """

    id: str
    says: str
    main: bool = False
    command: str | None = None
    spur: str | None = None
    step: str | None = None
    stop: int | None = None
    cars: int | None = None


def order(
    command: str, spur: str, says: str, *, main: bool = False, cars: int | None = None
) -> Action:
    """The button of an order."""
    return Action(command, says, main, command=command, spur=spur, cars=cars)


def tick(step: Step, stop: int, says: str, *, main: bool = False) -> Action:
    """The button of a tick."""
    return Action(step.value, says, main, step=step.value, stop=stop)


def tick_step(step: Step, stop: int, job: Job) -> tuple[Next, tuple[Action, ...]]:
    """One of the crew's own steps, with its button."""
    asks, done = own.says(step, job)
    made = msgspec.structs.replace(Next.of(step.value, "tick", asks, OWN[step]), passes=True)
    return made, (tick(step, stop, done, main=True),)

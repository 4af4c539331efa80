"""What a sitting shows to pages: what stays the same while it lasts, and what is so now."""

from __future__ import annotations

from enum import StrEnum

import msgspec

from firmware_py.commissioning.commission import Commission
from firmware_py.commissioning.model import Finding, Instruction
from firmware_py.commissioning.record import condition, repairs, results
from firmware_py.commissioning.wires import Wires


class State(StrEnum):
    """How a sitting fares."""

    ASKING = "asking"
    RESTING = "resting"
    """Stopped for now: outputs are safe, and it goes on when a page or the terminal says so."""
    SIGNED = "signed"
    STOPPED = "stopped"
    """Its process has ended, or ends just now."""


class Stand(msgspec.Struct, frozen=True):
    """A stand, its contacts and its outputs, by their names."""

    name: str
    contacts: tuple[str, ...]
    outputs: tuple[str, ...]


class About(msgspec.Struct, frozen=True):
    """What stays the same. ``again`` is the command that goes on with it later."""

    layout: str
    simulated: bool
    again: str
    stands: tuple[Stand, ...]


class Usual(msgspec.Struct, frozen=True):
    """What a record says unless its builder has something else to say."""

    by_whom: str
    place: str
    equipment: str
    results: str
    repairs: str
    condition_left: str


class Shown(msgspec.Struct, frozen=True):
    """What is so now.

    ``stand`` is where the wire asked about is, ``waits`` whether an answer is taken now,
    ``left_us`` how long leads are still listened to. ``levels`` has the contact asked about and
    every other that moved since the step began, as they stand: made, not made, or ``None`` where
    it can't be read. ``over`` counts the wires that are tested or skipped, by stand. ``usual`` is
    there once a record can be signed, ``record`` once it was.
    """

    state: State
    asked: Instruction
    stand: str | None
    waits: bool
    left_us: int | None
    levels: dict[str, bool | None]
    over: dict[str, int]
    findings: tuple[Finding, ...] = ()
    usual: Usual | None = None
    record: int | None = None


def about_of(wires: Wires, layout: str, again: str, *, simulated: bool) -> About:
    """What stays the same."""
    stands = [
        Stand(
            stand,
            tuple(name for name in wires.at(stand) if name in wires.contacts),
            tuple(name for name in wires.at(stand) if name in wires.outputs),
        )
        for stand in wires.stands
    ]
    return About(layout, simulated, again, tuple(stands))


def usual_of(commission: Commission, by_whom: str, place: str, equipment: str) -> Usual:
    """What a record would say now."""
    return Usual(
        by_whom,
        place,
        equipment,
        results(commission),
        repairs(commission) or "none",
        condition(commission),
    )


def shown_of(  # noqa: PLR0913 - one for each thing that it does not know itself
    commission: Commission,
    state: State,
    now_us: int,
    *,
    findings: tuple[Finding, ...] = (),
    usual: Usual | None = None,
    record: int | None = None,
) -> Shown:
    """What is so at ``now_us`` of the commission's clock. ``findings`` take long to work out."""
    asked, wires = commission.instruction, commission.wires
    about = asked.about or ""
    wire = wires.contacts.get(about) or wires.outputs.get(about)
    over = {*commission.evidence.tested, *commission.evidence.skipped}
    left_us = None
    if asked.until_us is not None:  # Whole seconds: what changes more often is news more often.
        left_us = max(-(-(asked.until_us - now_us) // 1_000_000), 0) * 1_000_000
    return Shown(
        state,
        asked,
        wire.stand if wire else None,
        commission.waits and state is State.ASKING,
        left_us,
        {name: commission.levels[name] for name in _watched(commission)},
        {stand: sum(name in over for name in wires.at(stand)) for stand in wires.stands},
        findings,
        usual,
        record,
    )


def _watched(commission: Commission) -> list[str]:
    """The contact asked about first, then all others that moved in this step."""
    about, moved = commission.instruction.about, commission.moved
    first = [about] if about in commission.wires.contacts else []
    return [*first, *(name for name in moved if name != about)]

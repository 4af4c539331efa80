"""What a page asks of a commissioning's sitting, and whether that fits what goes on."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated

import msgspec

from firmware_py.commissioning.commission import Commission
from firmware_py.commissioning.model import Said, Step

MOVES = (Step.PREPARE, Step.MAKE, Step.BREAK)
LOOKS = (Step.DARK, Step.LOOK)

LATE = "too late: that step is over; look what is asked now"

_MOST = 2**53 - 1
_Name = Annotated[str, msgspec.Meta(min_length=1, max_length=300)]
_Line = Annotated[str, msgspec.Meta(max_length=300)]
_Text = Annotated[str, msgspec.Meta(max_length=2000)]


class Say(StrEnum):
    """What can be asked. The first three are answers to the step."""

    DONE = "done"
    SEEN = "seen"
    SKIP = "skip"
    DO = "do"
    """Simulated pins only: hands do what the step asks."""
    REPEAT = "repeat"
    END = "end"
    REST = "rest"
    GO_ON = "go-on"
    SIGN = "sign"


class Signing(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The fields of the record that a builder writes; blank ones mean what they usually are."""

    by_whom: Annotated[str, msgspec.Meta(min_length=1, max_length=300)]
    place: _Line = ""
    equipment: _Line = ""
    repairs: _Text = ""
    condition_left: _Line = ""


class Asked(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One thing asked: of which sitting, and at which of its steps.

    ``seen`` are the outputs that are on, for ``SEEN``; ``stand`` is for ``REPEAT``.
    """

    sitting: Annotated[int, msgspec.Meta(ge=1, le=_MOST)]
    number: Annotated[int, msgspec.Meta(ge=1, le=_MOST)]
    say: Say
    seen: Annotated[tuple[_Name, ...], msgspec.Meta(max_length=1000)] = ()
    stand: _Line = ""
    signing: Signing | None = None


def ill_formed(asked: Asked) -> str | None:
    """What is wrong with it whatever goes on; ``None`` if nothing is."""
    if asked.say is Say.REPEAT and not asked.stand:
        return "repeat needs the name of a stand"
    if (asked.signing is not None) is not (asked.say is Say.SIGN):
        return "the fields of the record come with sign, and with nothing else"
    if asked.signing is not None and not asked.signing.by_whom.strip():
        return "by whom? A record is signed by somebody"
    if asked.seen and asked.say is not Say.SEEN:
        return "outputs that are on come with seen, and with nothing else"
    return None


def refusal(commission: Commission, asked: Asked, *, rests: bool) -> str | None:
    """Why a sitting can't do what is asked now; ``None`` if it can."""
    if asked.number != commission.instruction.number:
        return LATE
    if rests or asked.say is Say.GO_ON:
        return _at_rest(asked.say, rests=rests)
    if asked.say in (*Said, Say.DO):
        return _at_step(commission, asked)
    return _beside_steps(commission, asked)


def _beside_steps(commission: Commission, asked: Asked) -> str | None:
    if asked.say is Say.REPEAT and not commission.wires.at(asked.stand):
        return f"there is no stand or thing {asked.stand!r}"
    if asked.say is Say.SIGN and not commission.complete:
        return "a record is signed once every wire is through, or skipped"
    if asked.say is Say.END and commission.complete:
        return "every wire is through already"
    return None


def _at_rest(say: Say, *, rests: bool) -> str | None:
    if say is not Say.GO_ON:
        return "the test is stopped for now; go on first"
    return None if rests else "the test goes on already"


def _at_step(commission: Commission, asked: Asked) -> str | None:
    step = commission.instruction.step
    if step is Step.LISTEN:
        return "the leads are listened to; wait until that is over"
    if not commission.waits:
        return "too late: this step was answered already"
    fits = {
        Say.DONE: step in MOVES,
        Say.DO: step in MOVES,
        Say.SEEN: step in LOOKS,
        Say.SKIP: commission.instruction.about is not None or step is Step.DARK,
    }
    if not fits[asked.say]:
        return f"{asked.say.value} is no answer to this step"
    strange = [name for name in asked.seen if name not in commission.wires.outputs]
    return f"there is no output {strange[0]!r}" if strange else None

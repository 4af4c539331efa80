"""What pages ask of a sitting is done or refused, and answered; the terminal hears of it."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import TYPE_CHECKING

from firmware_py.commands.commission_phone import Phone
from firmware_py.commands.commission_words import Ended, of_phone
from firmware_py.commissioning.asking import Asked, Say, Signing, refusal
from firmware_py.commissioning.commission import Commission
from firmware_py.commissioning.model import Answer, Finding, Said
from firmware_py.commissioning.showing import Shown, State, Usual, shown_of

if TYPE_CHECKING:
    from firmware_py.commands.commission_sitting import Sitting

REACTION_US = 700_000
"""A line that comes so soon after a page has answered was meant for the step before."""


class Pages:
    """The pages of one sitting. ``signing`` is the request and the record that a page signs.

    While ``writing``, the record is asked for at the terminal. ``usual`` gives what it would say.
    """

    def __init__(self, phone: Phone, usual: Callable[[Commission], Usual]) -> None:
        self._phone = phone
        self._usual = usual
        self._found: tuple[int, tuple[Finding, ...], Usual | None] = (0, (), None)
        self.signing: tuple[int, Signing] | None = None
        self.writing = False
        self._deaf_until_us = 0
        self._answered = False

    def show(self, sitting: Sitting) -> None:
        """Show what is so now."""
        self._phone.show(self._shown(sitting), _now_us())

    def told(self, now_us: int) -> None:
        """The terminal was told a new step."""
        if self._answered:
            self._answered, self._deaf_until_us = False, now_us + REACTION_US

    def was_first(self, came_us: int) -> bool:
        """Whether a page had answered the step that a line of the terminal was meant for."""
        return self._answered or came_us < self._deaf_until_us

    def serve(self, sitting: Sitting) -> Ended | None:
        """Take what pages ask. All is answered but a signature, which is not kept yet."""
        for request, asked in self._phone.asked():
            why = self._refusal(sitting, asked)
            if why is None and asked.signing is not None:
                self.signing = (request, asked.signing)
                return Ended.SIGNED
            if why is None:
                why = _obeyed(sitting, asked)
            if why is None:
                sitting.say(f"    (phone) {of_phone(asked)}")
                self._answered = asked.say is not Say.REST  # Which brings no new step.
                self._deaf_until_us = _now_us() + REACTION_US
                sitting.tell()  # And keep: what was seen is on the disk before it is accepted.
            self._phone.answer(request, why)
        return None

    def kept(self) -> None:
        """Say that the record which a page has signed is kept."""
        if self.signing is not None:
            self._phone.answer(self.signing[0], None)

    def close(self, sitting: Sitting) -> None:
        """Show that the sitting ends."""
        self._phone.close(self._shown(sitting))

    def _shown(self, sitting: Sitting) -> Shown:
        commission = sitting.commission
        number = commission.instruction.number
        if self._found[0] != number:  # To find takes long, and is asked many times a second.
            usual = self._usual(commission) if commission.complete else None
            self._found = (number, commission.findings(), usual)
        _, findings, usual = self._found
        return shown_of(
            commission,
            sitting.state,
            _now_us(),
            findings=findings,
            usual=usual,
            record=sitting.record,
        )

    def _refusal(self, sitting: Sitting, asked: Asked) -> str | None:
        if sitting.state is State.SIGNED:
            return "the record is signed already"
        if self.writing and asked.say is not Say.SIGN:
            return "the record is just being written at the terminal"
        return refusal(sitting.commission, asked, rests=sitting.state is State.RESTING)


def _obeyed(sitting: Sitting, asked: Asked) -> str | None:
    """Do what a page asks, which makes sense now; or say why it can't be done."""
    commission, number, now_us = sitting.commission, asked.number, _now_us()
    match asked.say:
        case Say.DONE | Say.SKIP:
            commission.answer(Answer(number, Said(asked.say.value)), now_us)
        case Say.SEEN:
            commission.answer(Answer(number, Said.SEEN, asked.seen), now_us)
        case Say.DO:
            return sitting.do("do", "", commission.instruction)
        case Say.REPEAT:
            commission.repeat(asked.stand, now_us)
        case Say.END:
            commission.end(now_us)
        case Say.REST:
            sitting.rest()
        case Say.GO_ON:
            sitting.go_on()
    return None


def _now_us() -> int:
    return time.monotonic_ns() // 1000

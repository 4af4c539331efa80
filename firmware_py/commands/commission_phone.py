"""Pages at a sitting: what they are shown goes to the logbook, and what they ask comes from it."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator

import msgspec
from sqlalchemy import Engine

from firmware_py.commissioning.asking import Asked, ill_formed
from firmware_py.commissioning.showing import About, Shown, State
from firmware_py.logbook.errors import LogbookError
from firmware_py.logbook.requests import COMMISSION, Inbox, answer_asked
from firmware_py.logbook.sitting import Showing

LEAST_US = 50_000
"""What is shown changes no oftener than this: a noisy lead must not fill the logbook's card."""
BEAT_US = 1_000_000


class Phone:
    """A sitting's pages. One thread's; trouble with the logbook is told and does not end it.

    ``sitting`` is the logbook's URL, the commissioning's id and what stays the same; ``tend`` is
    called now and then: it keeps the screen's own process running.
    """

    def __init__(
        self,
        database: Engine,
        sitting: tuple[str, int, About],
        *,
        say: Callable[[str], None],
        tend: Callable[[], None] = lambda: None,
    ) -> None:
        self._database = database
        url, commissioning_id, about = sitting
        self._open = (url, commissioning_id, msgspec.json.encode(about).decode())
        self._say = say
        self._tend = tend
        self._showing: Showing | None = None
        self._inbox = Inbox(database)
        self._last = ""
        self._at_us = 0
        self._trouble = ""

    def show(self, shown: Shown, now_us: int) -> None:
        """Show this, if it is news and the last is not too fresh; and that the sitting lives."""
        self._tend()
        text = msgspec.json.encode(shown).decode()
        least_us = BEAT_US if text == self._last else LEAST_US
        if self._showing is not None and now_us - self._at_us < least_us:
            return
        try:
            self._put(text)
        except LogbookError as trouble:
            self._tell(str(trouble))
        self._at_us = now_us

    def asked(self) -> Iterator[tuple[int, Asked]]:
        """What pages ask, oldest first, each with its request; answers what makes no sense."""
        try:
            requests = [one for one in self._inbox.new() if one.kind == COMMISSION]
        except LogbookError as trouble:
            self._tell(str(trouble))
            return
        for request in requests:
            understood = self._understood(request.note)
            if isinstance(understood, Asked):
                yield request.id, understood
            else:
                self.answer(request.id, understood)

    def answer(self, request_id: int, why: str | None) -> None:
        """Answer a request: ``why`` it is refused, or ``None``."""
        try:
            answer_asked(self._database, request_id, why, time.time_ns() // 1000)
        except LogbookError as trouble:
            self._tell(str(trouble))

    def close(self, last: Shown) -> None:
        """Show that the sitting has ended; never raises."""
        try:
            self._put(
                msgspec.json.encode(msgspec.structs.replace(last, state=State.STOPPED)).decode()
            )
        except LogbookError as trouble:
            self._tell(str(trouble))
        if self._showing is not None:
            self._showing.close()
        self._inbox.close()

    def _put(self, text: str) -> None:
        if self._showing is None:
            self._showing = Showing(*self._open, text)
        else:
            self._showing.show(None if text == self._last else text)
        self._last = text
        self._trouble = ""

    def _understood(self, note: object) -> Asked | str:
        """A request, or why it makes no sense: the table is anyone's to write."""
        try:
            asked = msgspec.json.decode(str(note), type=Asked)
        except (msgspec.MsgspecError, RecursionError, UnicodeError) as wrong:
            return f"it could not be understood: {wrong}"
        if self._showing is None or asked.sitting != self._showing.id:
            return "that was asked of an earlier sitting; look what is asked now"
        return ill_formed(asked) or asked

    def _tell(self, trouble: str) -> None:
        if trouble != self._trouble:
            self._say(f"The phone can't be served: {trouble}")
        self._trouble = trouble

"""The engine's side of the screen's requests: it looks for them, and answers each."""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable
from typing import Protocol

import msgspec

from firmware_py.core.by_hand import thing_of
from firmware_py.core.names import Command, Shows
from firmware_py.core.orders import Order
from firmware_py.engine.ports import Given, Turn, Work
from firmware_py.layout.model import Layout
from firmware_py.logbook.errors import LogbookError
from firmware_py.logbook.records import RequestRecord
from firmware_py.logbook.requests import BACK, BY_HAND

log = logging.getLogger(__name__)

LOOK_EVERY_S = 0.075
"""Soon enough for a finger; each look costs an idle box more than all else it does."""
STALE_US = 10_000_000
"""A request older than this was meant for a moment that has passed."""

_MOST = 2**31 - 1
"""No session has more violations; no database need keep larger numbers."""

Hand = Callable[[str, bool | None], None]
"""Makes, breaks or loses a simulated contact."""


class Requests(Protocol):
    """Where requests come from: the logbook's inbox."""

    def new(self) -> list[RequestRecord]:
        """Requests not handed out before."""


class Answer(Protocol):
    """Where answers go that the engine need not be asked for."""

    def __call__(self, request_id: int, accepted: bool, why: str | None = None) -> None:
        """Answer a request."""


class Clerk:
    """Reads requests in a thread of its own; what is sound goes to the engine's queue."""

    def __init__(  # noqa: PLR0913 - each is a seam
        self,
        layout: Layout,
        requests: Requests,
        give: Callable[[Given | Turn | Work], None],
        answer: Answer,
        *,
        hand: Hand | None,
        wall_us: Callable[[], int],
        wait_scale: Callable[[], float | None] = lambda: None,
    ) -> None:
        self._layout = layout
        self._spurs = {spur.id for spur in layout.spurs}
        self._contacts = {contact.name for contact in layout.contacts}
        self._requests = requests
        self._give = give
        self._answer = answer
        self._hand = hand
        self._wall_us = wall_us
        self._wait_scale = wait_scale
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="requests", daemon=True)
        self.trouble: str | None = None

    def start(self) -> None:
        """Begin to look."""
        self._thread.start()

    def stop(self) -> None:
        """Look no more."""
        self._stop.set()
        if self._thread.is_alive():
            self._thread.join(2.0)

    def look(self) -> None:
        """Look once."""
        for request in self._requests.new():
            try:
                why = self._take(request)
            except Exception as error:
                # The table is anyone's to write: one odd row must not end the answering of all.
                log.exception("request %s could not be understood", request.id)
                why = f"it could not be understood ({error})"
            if why is not None:
                self._answer(request.id, False, why)

    def _run(self) -> None:
        while not self._stop.wait(LOOK_EVERY_S):
            try:
                self.look()
                self.trouble = None
            except LogbookError as error:
                # The logbook says what is wrong; the requests stay in it until it can be read.
                self.trouble = str(error)
            except Exception as error:
                # Whatever it is, buttons that are dead for ever would be worse.
                if self.trouble != repr(error):
                    log.exception("requests could not be read")
                self.trouble = repr(error)

    def _take(self, left: RequestRecord) -> str | None:  # noqa: PLR0911 - one for each answer
        """Pass a request on, or say why not."""
        # SQLite keeps anything in any column; a text for a number would be the core's to trip on.
        try:
            request = msgspec.convert(msgspec.to_builtins(left), RequestRecord)
        except msgspec.ValidationError as wrong:
            return f"it is not of the right shape: {wrong}"
        # Either way about: a clock without a battery may stand before the request was made.
        if abs(self._wall_us() - request.wall_us) > STALE_US:
            return "it came while the engine was not there; ask again"
        if request.kind == "hand":
            return self._take_hand(request)
        if request.kind == "session":
            return self._take_session(request)
        if request.kind == BY_HAND:
            return self._take_by_hand(request)
        if request.kind != "order":
            return f"there is no kind of request {request.kind!r}"
        if request.command not in set(Command):
            return f"there is no command {request.command!r}"
        command = Command(request.command)
        if command is Command.ACKNOWLEDGE:
            if not 1 <= (request.violation or 0) <= _MOST:
                return "acknowledge needs the number of a violation"
        elif request.spur not in self._spurs:
            return f"the layout has no spur {request.spur!r}"
        if command is Command.START_BRAKE_TEST and not 1 <= (request.cars or 0) <= 1000:
            return "a brake test is for 1 to 1000 cars"
        order = _order(command, request)
        self._give(Given(order, request.id, request.note, left_us=request.wall_us))
        return None

    def _take_session(self, request: RequestRecord) -> str | None:
        if request.command not in {"open", "close"}:
            return f"a session is opened or closed; there is no {request.command!r} for it"
        self._give(Turn(request.command == "open", request.id, self._wait_scale()))
        return None

    def _take_by_hand(self, request: RequestRecord) -> str | None:
        """Whether the output may be worked by hand now is for the engine to say."""
        of, _, output = (request.output or "").partition(".")
        if thing_of(self._layout, of, output) is None:
            return f"the layout has no output {request.output!r}"
        command = request.command or ""
        if command not in {BACK, *Shows}:
            return f"an output can't show {command!r}"
        shows = None if command == BACK else Shows(command)
        whence = request.note or "an unknown address"
        self._give(Work(of, output, shows, whence, request.id, request.wall_us))
        return None

    def _take_hand(self, request: RequestRecord) -> str | None:
        if self._hand is None:
            return "these are real pins; only a real hand can move them"
        if request.contact not in self._contacts:
            return f"the layout has no contact {request.contact!r}"
        self._hand(str(request.contact), request.made)
        self._answer(request.id, True)
        return None


def _order(command: Command, request: RequestRecord) -> Order:
    if command is Command.ACKNOWLEDGE:
        return Order(command, violation=request.violation)
    cars = request.cars if command is Command.START_BRAKE_TEST else None
    return Order(command, request.spur, None, cars)

"""One stream of server-sent events, from its first event to its end."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

import msgspec

from firmware_py.logbook.errors import LogbookError
from firmware_py.logbook.reading import Reader
from web.live.follow import Follower, entry_view
from web.live.hub import BOARD, Event, Stream

REPLAYED = 500
COMMENT = b": still here\n\n"
COMMENT_AFTER_S = 5.0
RETRY = b"retry: 1000\n\n"


class Feed:
    """Writes what a stream gets, whatever its topic.

    ``last_id`` is the last entry that its client has, if any; only the board's stream is given
    the entries between that and its state.
    """

    def __init__(
        self, reader: Reader, follower: Follower, stream: Stream, last_id: int | None
    ) -> None:
        self._reader = reader
        self._follower = follower
        self._stream = stream
        self._last_id = last_id

    def frames(self, state: Event | None) -> Iterator[bytes]:
        """The frames, each a whole event, until the stream has to end or the logbook fails.

        It ends when the screen closes and when its topic has gone. A comment every few seconds
        finds out whether anybody still listens.
        """
        hub = self._follower.hub
        yield RETRY
        try:
            yield from self._event(state)
            while not hub.ended(self._stream):
                events = hub.take(self._stream, COMMENT_AFTER_S)
                for event in events:
                    yield from self._event(event)
                if not events:
                    yield COMMENT
        except LogbookError:
            return
        finally:
            hub.leave(self._stream)

    def _event(self, event: Event | None) -> Iterator[bytes]:
        if event is None:
            return
        if event.kind == "state" and self._stream.topic == BOARD:
            yield from self._missed(event)
        yield event.frame()
        self._last_id = event.id

    def _missed(self, state: Event) -> Iterator[bytes]:
        """The entries between what the client has and what the state holds, in their order."""
        followed, last_id = self._follower.followed, self._last_id
        while followed is not None and last_id is not None and last_id < state.id:
            wanted = partial(self._reader.entries, followed.session.id, last_id, REPLAYED)
            batch = self._follower.hub.aside(wanted)
            held = [entry for entry in batch if entry.id <= state.id]
            if not held:
                return
            last_id = held[-1].id
            data = msgspec.json.encode({"entries": [entry_view(entry) for entry in held]})
            yield Event("entries", last_id, data).frame()

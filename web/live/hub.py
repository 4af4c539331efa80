"""Hands events from the follower to the streams, and never waits for a slow one.

Each stream has a short queue. One that overflows is emptied, and what its stream gets next is
the whole state instead of the changes it missed.
"""

from __future__ import annotations

import threading
from collections import deque
from dataclasses import dataclass, field

QUEUE_LENGTH = 64


@dataclass(frozen=True, slots=True)
class Event:
    """One server-sent event: its kind, the id of the last entry it holds, and its JSON."""

    kind: str
    id: int
    data: bytes

    def frame(self) -> bytes:
        """The event as it goes over the wire. JSON has no bare line ends, so one line holds it."""
        head = f"event: {self.kind}\nid: {self.id}\ndata: ".encode()
        return head + self.data + b"\n\n"


@dataclass(eq=False, slots=True)
class Stream:
    """A subscriber's queue; ``behind`` says that it lost events and needs the whole state."""

    queue: deque[Event] = field(default_factory=deque)
    behind: bool = False


class Hub:
    """The meeting place of one follower and at most ``most`` streams. Safe between threads."""

    def __init__(self, most: int) -> None:
        self.most = most
        self._ready = threading.Condition()
        self._streams: set[Stream] = set()
        self._state: Event | None = None
        self._closed = False

    def subscribe(self) -> tuple[Stream, Event | None] | None:
        """A new stream with the state it begins from, or ``None`` where no more are allowed.

        The two are taken together: every later event reaches the stream's queue.
        """
        with self._ready:
            if self._closed or len(self._streams) >= self.most:
                return None
            stream = Stream()
            self._streams.add(stream)
            return stream, self._state

    def leave(self, stream: Stream) -> None:
        """Forget a stream; leaving twice is nothing."""
        with self._ready:
            self._streams.discard(stream)

    def state(self) -> Event | None:
        """The whole state as last published, or ``None`` before the first."""
        with self._ready:
            return self._state

    def publish(self, event: Event, state: Event | None = None) -> None:
        """Give an event to every stream; ``state`` becomes what new streams begin from."""
        with self._ready:
            if state is not None:
                self._state = state
            for stream in self._streams:
                _offer(stream, event)
            self._ready.notify_all()

    def take(self, stream: Stream, timeout_s: float) -> list[Event]:
        """What waits for a stream, after at most ``timeout_s``; empty where nothing came."""
        with self._ready:
            self._ready.wait_for(lambda: self._closed or stream.behind or stream.queue, timeout_s)
            events = list(stream.queue)
            stream.queue.clear()
            if stream.behind:
                stream.behind = False
                return [self._state] if self._state else []
            return events

    @property
    def closed(self) -> bool:
        """Whether the screen is going down."""
        return self._closed

    @property
    def streams(self) -> int:
        """How many streams there are."""
        return len(self._streams)

    def close(self) -> None:
        """Wake every stream so that it ends, and allow no new one."""
        with self._ready:
            self._closed = True
            self._ready.notify_all()


def _offer(stream: Stream, event: Event) -> None:
    if stream.behind:
        return
    if len(stream.queue) >= QUEUE_LENGTH:
        stream.queue.clear()
        stream.behind = True
        return
    stream.queue.append(event)

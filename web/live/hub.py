"""Hands events from the followers to the streams, and never waits for a slow one.

Each stream watches a topic: ``board``, or a crew's job such as ``job:3``; and others beside it
where its page shows more, for a browser has few connections to spare. It has a short queue. One
that overflows is emptied, and what its stream gets next is the topics' whole states instead of the
changes it missed.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property
from typing import TypeVar

from web.live.waiting import Bell, Threads, Waiting

T = TypeVar("T")
BOARD = "board"
QUEUE_LENGTH = 64


@dataclass(frozen=True)
class Event:
    """One server-sent event: its kind, the id of the last entry it holds, and its JSON."""

    kind: str
    id: int
    data: bytes

    @cached_property
    def _frame(self) -> bytes:
        head = f"event: {self.kind}\nid: {self.id}\ndata: ".encode()
        return head + self.data + b"\n\n"

    def frame(self) -> bytes:
        """The event as it goes over the wire; built once, however many streams there are.

        JSON has no bare line ends, so one line holds it.
        """
        return self._frame


@dataclass(eq=False, slots=True)
class Stream:
    """A subscriber's queue; ``behind`` says that it lost events and needs the whole state.

    ``over`` says that a topic of its has gone: nothing more will come.
    """

    topics: tuple[str, ...]
    bell: Bell
    queue: deque[Event] = field(default_factory=deque)
    behind: bool = False
    over: bool = False

    @property
    def topic(self) -> str:
        """The one that it is mainly about."""
        return self.topics[0]


class Hub:
    """The meeting place of followers and at most ``most`` streams. Safe between threads.

    The bound is for the streams of all topics together. A server whose streams are not threads
    brings its own ``waiting``.
    """

    def __init__(self, most: int, waiting: Waiting | None = None) -> None:
        self.most = most
        self._waiting = waiting or Threads()
        self._lock = threading.Lock()
        self._streams: dict[str, set[Stream]] = {}
        self._count = 0
        self._states: dict[str, Event] = {}
        self._closed = False

    def subscribe(
        self, topic: str = BOARD, *beside: str, spared: float = 0.0
    ) -> tuple[Stream, Event | None] | None:
        """A new stream with the state it begins from, or ``None`` where no more are allowed.

        ``spared`` is the share of all places that is kept for others. The two are taken
        together: every later event of the topic reaches the stream's queue, where the states of
        the topics ``beside`` it are already.
        """
        with self._lock:
            if self._closed or self._count >= self.most - int(self.most * spared):
                return None
            stream = Stream((topic, *beside), self._waiting.bell())
            for one in stream.topics:
                self._streams.setdefault(one, set()).add(stream)
            stream.queue.extend(self._states[one] for one in beside if one in self._states)
            self._count += 1
            return stream, self._states.get(topic)

    def leave(self, stream: Stream) -> None:
        """Forget a stream; leaving twice is nothing."""
        with self._lock:
            if stream not in self._streams.get(stream.topic, ()):
                return
            for topic in stream.topics:
                self._streams[topic].discard(stream)
                if not self._streams[topic]:
                    del self._streams[topic]
            self._count -= 1

    def state(self, topic: str = BOARD) -> Event | None:
        """A topic's whole state as last published, or ``None`` before the first."""
        with self._lock:
            return self._states.get(topic)

    def watched(self, topic: str = BOARD) -> bool:
        """Whether any stream watches a topic now."""
        with self._lock:
            return topic in self._streams

    def lapse(self, topic: str) -> None:
        """Forget the state of a topic that nobody watches; a new one is published to the next."""
        with self._lock:
            if topic not in self._streams:
                self._states.pop(topic, None)

    def publish(self, event: Event, state: Event | None = None, topic: str = BOARD) -> None:
        """Give an event to every stream of a topic; ``state`` is what new ones begin from."""
        with self._lock:
            if state is not None:
                self._states[topic] = state
            for stream in self._streams.get(topic, ()):
                _offer(stream, event)
                stream.bell.set()

    def forget(self, topic: str) -> None:
        """Forget a topic whose job has gone: its state goes, and its streams end.

        They hold their places until they have left.
        """
        with self._lock:
            self._states.pop(topic, None)
            for stream in self._streams.get(topic, ()):
                stream.over = True
                stream.bell.set()

    def take(self, stream: Stream, timeout_s: float) -> list[Event]:
        """What waits for a stream, after at most ``timeout_s``; empty where nothing came."""
        stream.bell.clear()
        if not self._waits_for(stream):
            stream.bell.wait(timeout_s)
        with self._lock:
            events = list(stream.queue)
            stream.queue.clear()
            if stream.behind:
                stream.behind = False
                return [self._states[one] for one in stream.topics if one in self._states]
            return events

    def aside(self, work: Callable[[], T]) -> T:
        """Do what may wait for a disk, in a stream, so that no other stream waits for it."""
        return self._waiting.aside(work)

    def ended(self, stream: Stream) -> bool:
        """Whether a stream is to end: the screen goes down, or its topic has gone."""
        return self._closed or stream.over

    @property
    def closed(self) -> bool:
        """Whether the screen is going down."""
        return self._closed

    @property
    def streams(self) -> int:
        """How many streams there are, of all topics."""
        return self._count

    def close(self) -> None:
        """Wake every stream so that it ends, and allow no new one."""
        with self._lock:
            self._closed = True
            for streams in self._streams.values():
                for stream in streams:
                    stream.bell.set()

    def _waits_for(self, stream: Stream) -> bool:
        return bool(self._closed or stream.over or stream.behind or stream.queue)


def _offer(stream: Stream, event: Event) -> None:
    if stream.behind:
        return
    if len(stream.queue) >= QUEUE_LENGTH:
        stream.queue.clear()
        stream.behind = True
        return
    stream.queue.append(event)

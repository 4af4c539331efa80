"""The follower: one thread that reads the logbook and tells every stream what changed.

What it tells was read from the database, so it was committed: the page never shows what the
log does not hold. Any trouble in reading is shown, and makes every lamp dark.
"""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import msgspec

from firmware_py.layout.errors import LayoutError
from firmware_py.logbook.errors import LogbookError
from firmware_py.logbook.reading import Reader
from firmware_py.logbook.records import EntryRecord, SessionRecord
from web.bench.telling import Bench
from web.crew.telling import Crews
from web.live.changes import difference
from web.live.clock import SessionClock
from web.live.heart import SAYS, Account, Heart, Unwritten
from web.live.hub import Event, Hub
from web.live.log import Followed, newest, read_on
from web.live.view import Known, View, sections

log = logging.getLogger(__name__)

POLL_S = 0.015
"""Asking whether anything was written costs some 25 microseconds, so it can be asked often."""
REST_S = 0.04
"""After a drawing: in a storm of changes a screen is drawn no oftener than 25 times a second."""
TROUBLED_S = 0.1
"""While the logbook can't be read, or its database can't be asked that cheaply."""
BEAT_S = 2.0
STUCK_S = 6.0


class Follower:
    """Owns the thread. ``hub`` gets an event for each change and a beat about every 2 s.

    ``record`` is where the engine says how it fares while it can't write the logbook;
    ``poll_s`` is how often the logbook is asked whether anything was written.
    """

    def __init__(
        self, reader: Reader, hub: Hub, record: Path | None = None, poll_s: float = POLL_S
    ) -> None:
        self.hub = hub
        self.heart = Heart()
        self.followed: Followed | None = None
        self.crews = Crews(hub, reader.engine)
        self._bench = Bench(hub, reader)
        self._reader = reader
        self._poll_s = poll_s
        self._account = Account(record)
        self._unwritten: Unwritten | None = None
        self._clock: SessionClock | None = None
        self._view: View | None = None
        self._unseen = True
        self._mark: tuple[object, ...] = ()
        self._trouble = ""
        self._looked_at = time.monotonic()
        self._beat_at = 0.0
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="follower", daemon=True)

    def start(self) -> None:
        """Begin to follow."""
        self._thread.start()

    def close(self) -> None:
        """Stop following; safe to call twice, and before ``start``."""
        self._stop.set()
        self.hub.close()

    def runs(self) -> bool:
        """Whether the thread is there."""
        return self._thread.is_alive()

    @property
    def stuck(self) -> bool:
        """Whether the thread has not looked at the logbook for too long to be believed."""
        return time.monotonic() - self._looked_at > STUCK_S

    @property
    def live(self) -> bool:
        """Whether what the view shows is proven: the engine guards this very session."""
        now = time.monotonic()
        followed = self.followed
        return (
            not self._trouble
            and self._unwritten is None
            and not self.stuck
            and followed is not None
            and followed.session.ended_t_us is None
            and self.heart.session_id == followed.session.id
            and self.heart.word(now) == "guarding"
        )

    def look(self) -> None:
        """One look at the logbook; publishes what it changed. The thread does this again and again.

        Only one thread may call this.
        """
        now = time.monotonic()
        self._unwritten = self._account.ask(now)
        new: Sequence[EntryRecord] = ()
        try:
            if self._reader.changed() or self._trouble or (self.followed and self.followed.owing):
                new = self._read(now)
            self._trouble = ""
        except (LogbookError, LayoutError) as trouble:
            self._trouble = str(trouble)
        except Exception:
            log.exception("the screen met trouble of its own")
            self._trouble = "the screen met trouble of its own; its log says what"
        self._looked_at = now
        try:
            self._publish(new, now)
        except Exception:
            log.exception("the screen could not be drawn")
            self._trouble = "the screen met trouble of its own; its log says what"
            self._unseen = True

    def _run(self) -> None:
        while not self._stop.is_set():
            before = self._view
            self.look()
            self._stop.wait(self._pause(drew=self._view is not before))

    def _pause(self, *, drew: bool) -> float:
        """Seconds until the next look. The first change after some quiet is drawn at once."""
        if self._trouble:
            return max(self._poll_s, TROUBLED_S)
        return max(self._poll_s, REST_S) if drew else self._poll_s

    def _read(self, now: float) -> list[EntryRecord]:
        self._unseen = True
        self.heart.note(self._reader.pulse(), now)
        known = self.followed
        followed = self._newest(known)
        if followed is None:
            self.followed = None
            return []
        new = self._read_on(followed)
        self._set_clock(followed, new, now, fresh=followed is not known)
        self.followed = followed
        return new

    def _newest(self, known: Followed | None) -> Followed | None:
        return newest(self._reader, known)

    def _read_on(self, followed: Followed) -> list[EntryRecord]:
        return read_on(self._reader, followed)

    def _set_clock(
        self, followed: Followed, new: Sequence[EntryRecord], now: float, *, fresh: bool
    ) -> None:
        if fresh or self._clock is None:
            session = followed.session
            at = (new[-1].t_us, new[-1].wall_us) if new else (0, session.began_wall_us)
            self._clock = SessionClock.guess(*at, time.time_ns() // 1_000, now)
        elif new:
            self._clock.heard(new[-1].t_us, now)

    def _publish(self, new: Sequence[EntryRecord], now: float) -> None:
        ident = self.followed.last_id if self.followed else 0
        head = {"clock_us": self._clock.read(now) if self._clock and self.followed else None}
        event = state = None
        if self._must_draw(now):
            before, view = self._view, self._draw(now)
            self._view = view
            state = Event("state", ident, _json(head | view))
            if before is None or _is_another(before, view):
                event = state
            elif (patch := difference(before, view)) or new:
                entries = {"entries": [entry_view(entry) for entry in new]}
                event = Event("patch", ident, _json(head | entries | patch))
        if event is None and now - self._beat_at >= BEAT_S:
            event = Event("beat", ident, _json(head))
        if event is not None:
            self.hub.publish(event, state)
            self._beat_at = now
        if state is not None and self._view is not None:
            self.crews.draw(self.followed, self._view["head"])
        self._bench.look(self.followed, now, changed=state is not None, live=self.live)
        self.crews.beat(head["clock_us"], now)

    def _must_draw(self, now: float) -> bool:
        """Whether anything was read, or the engine's word changed by silence alone."""
        mark = (self.heart.word(now), self.live, self._trouble, self._unwritten)
        unseen = self._unseen or mark != self._mark
        self._unseen, self._mark = False, mark
        return unseen

    def _draw(self, now: float) -> View:
        followed = self.followed
        head = {"head": self._head(followed, now)}
        if followed is None:
            return head
        known = Known(
            followed.board,
            followed.plan,
            followed.violations,
            followed.standing,
            followed.remarks,
            self.live,
            followed.session.opened,
            followed.jobs,
            followed.ticks,
            followed.settings,
            followed.by_hand,
            followed.toward,
        )
        return head | self._sections(known)

    def _sections(self, known: Known) -> View:
        return sections(known)

    def _head(self, followed: Followed | None, now: float) -> dict[str, Any]:
        word = self._word(followed, now)
        session = followed.session if followed else None
        return {
            "live": self.live,
            "engine": word,
            "engine_says": self._unwritten.says if self._unwritten else SAYS[word],
            "trouble": self._trouble,
            **_session_view(session),
        }

    def _word(self, followed: Followed | None, now: float) -> str:
        """The engine's word, or why it is not to be believed although its heart beats."""
        word = self.heart.word(now)
        if self._unwritten:
            return "unwritten"
        if self._trouble:
            return "unread"
        if followed and word == "guarding" and not self.live:
            return "stopped" if followed.session.ended_t_us is not None else "starting"
        return word


def entry_view(entry: EntryRecord) -> dict[str, Any]:
    """An entry as streams get it; ``line`` has the keys that a replay prints."""
    return {"id": entry.id, "t_us": entry.t_us, "wall_us": entry.wall_us, "line": entry.line}


def _session_view(session: SessionRecord | None) -> dict[str, Any]:
    if session is None:
        return {"session": None, "layout": "", "simulated": False, "ended": False, "opened": False}
    return {
        "session": session.id,
        "layout": session.layout_name,
        "simulated": session.simulated,
        "ended": session.ended_t_us is not None,
        "opened": session.opened,
    }


def _is_another(old: View, new: View) -> bool:
    """Whether so much is new that a patch would be no use: another session, or life and death."""
    return any(old["head"][key] != new["head"][key] for key in ("session", "live"))


def _json(value: object) -> bytes:
    return msgspec.json.encode(value)

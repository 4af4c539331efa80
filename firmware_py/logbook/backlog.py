"""The bounded queue between the engine and the logbook's writer."""

from __future__ import annotations

import threading
import time
from collections import deque

from firmware_py.logbook.pending import ALONE, Job, PulseJob, StandingJob, TapeJob


class Together:
    """Holds a backlog back for the length of a ``with`` block; blocks may be nested."""

    def __init__(self, backlog: Backlog) -> None:
        self._backlog = backlog

    def __enter__(self) -> None:
        self._backlog.hold()

    def __exit__(self, *error: object) -> None:
        self._backlog.let_go()


class Backlog:
    """Keeps jobs in order until they are committed. Putting never waits for the database.

    Jobs that may wait (raw readings and standing) are held back up to ``group_s`` seconds to
    be taken together; any other is taken at once, with all before it. Of standing and pulse
    only the latest is kept. A raw reading that finds ``room`` jobs waiting is dropped and
    counted, for it is worth less than entries, which are never dropped.
    """

    def __init__(self, room: int, group_s: float) -> None:
        self._room = room
        self._group_s = group_s
        self._jobs: deque[Job] = deque()
        self._standing: dict[str, StandingJob] = {}
        self._pulse: PulseJob | None = None
        self._lock = threading.Lock()
        self._to_take = threading.Condition(self._lock)
        self._written = threading.Condition(self._lock)
        self._added = self._taken = self._done = 0
        self._first_at: float | None = None
        self._hurry = self._closed = False
        self._drops = 0
        self._held = 0
        self._owes_call = False
        self._after: list[Job] = []
        self.together = Together(self)

    def hold(self) -> None:
        """Let nothing be taken until ``let_go``: what is put meanwhile is taken as one.

        Closing ends every hold, so that nobody can be kept waiting for ever.
        """
        with self._lock:
            self._held += 1

    def let_go(self) -> None:
        """End a ``hold``."""
        with self._lock:
            self._held -= 1
            if not self._held:
                self._let_in()

    def _let_in(self) -> None:
        after, self._after = self._after, []
        for job in after:
            self._jobs.append(job)
            self._count(hurry=True)
        if self._owes_call:
            self._owes_call = False
            self._to_take.notify()

    @property
    def queued(self) -> int:
        """How many jobs are not committed yet, those in the writer's hands among them."""
        return self._added - self._done

    @property
    def drops(self) -> int:
        """How many raw readings were dropped since the start."""
        return self._drops

    def put(self, job: Job, *, late: bool = False) -> bool:
        """Add a job that is to be written at once; false if closed and the job not ``late``.

        Only the writer is late: what it has to say of its last commits is still to be kept.
        """
        with self._lock:
            taken = late or not self._closed
            if taken and self._held and isinstance(job, ALONE):
                self._after.append(job)  # Another thread's, which would cut the block in two.
            elif taken:
                self._jobs.append(job)
                self._count(hurry=True)
            return taken

    def put_pulse(self, job: PulseJob) -> bool:
        """Put the pulse in the place of one that still waits; false if closed."""
        with self._lock:
            if not self._closed:
                fresh, self._pulse = self._pulse is None, job
                if fresh:
                    self._count(hurry=True)
            return not self._closed

    def put_reading(self, job: TapeJob) -> bool:
        """Add a raw reading, or drop it where there is no room; false if closed."""
        with self._lock:
            if self._closed:
                return False
            if self.queued >= self._room:
                self._drops += 1
            else:
                self._jobs.append(job)
                self._count(hurry=False)
            return True

    def put_standing(self, job: StandingJob) -> bool:
        """Put a contact's standing in the place of one that still waits; false if closed."""
        with self._lock:
            if not self._closed:
                fresh = job.contact not in self._standing
                self._standing[job.contact] = job
                if fresh:
                    self._count(hurry=False)
            return not self._closed

    def take(self) -> list[Job]:
        """Wait for work and take all of it, in order; empty only once closed and empty.

        A session's beginning, say, is taken alone: what follows needs its id to be there.
        """
        with self._lock:
            while not self._due():
                if self._closed:
                    return []
                self._owes_call = self._held > 0
                self._to_take.wait(None if self._held else self._wait_s())
            batch = self._batch()
            self._taken += len(batch)
            left = self._added - self._taken
            self._hurry = left > 0 and self._hurry
            self._first_at = time.monotonic() if left else None
            return batch

    def done(self, count: int) -> None:
        """Say that ``count`` of the jobs taken are committed."""
        with self._lock:
            self._done += count
            self._written.notify_all()

    def flush(self, timeout: float) -> bool:
        """Wait until all that was put before is committed; false if that takes too long."""
        with self._lock:
            wanted = self._added
            self._hurry = self._hurry or self._added > self._taken
            self._to_take.notify()
            return self._written.wait_for(lambda: self._done >= wanted, timeout)

    def close(self) -> None:
        """Take nothing more in, and let the writer have what is left."""
        with self._lock:
            self._closed = True
            self._let_in()
            self._hurry = self._added > self._taken
            self._to_take.notify()

    def _count(self, *, hurry: bool) -> None:
        self._added += 1
        if self._first_at is None:
            self._first_at = time.monotonic()
            self._call()
        if hurry and not self._hurry:
            self._hurry = True
            self._call()

    def _call(self) -> None:
        if self._held:
            self._owes_call = True  # It could take nothing yet: it is called once, at the end.
        else:
            self._to_take.notify()

    def _due(self) -> bool:
        if self._held and not self._closed:
            return False
        return self._hurry or (self._first_at is not None and self._wait_s() == 0)

    def _wait_s(self) -> float | None:
        if self._first_at is None:
            return None
        return max(0.0, self._first_at + self._group_s - time.monotonic())

    def _batch(self) -> list[Job]:
        batch: list[Job] = []
        while self._jobs and not isinstance(self._jobs[0], ALONE):
            batch.append(self._jobs.popleft())
        if self._jobs:
            return batch or [self._jobs.popleft()]
        batch.extend(self._standing.values())
        self._standing = {}
        if self._pulse is not None:
            batch.append(self._pulse)
            self._pulse = None
        return batch

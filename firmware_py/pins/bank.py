"""The input lines of one GPIO chip: one request for all of them, their levels, loss and return.

The kernel takes at most 64 lines in a request, so a chip with more of them in use gets one request
for each 64. All methods may be called from any thread; none calls back.
"""

from __future__ import annotations

import errno
import time
from collections.abc import Callable
from threading import RLock

from firmware_py.pins.kernel import (
    HEADER,
    LINES_IN_REQUEST,
    ChipAbsentError,
    Kernel,
    Request,
    no_header,
)
from firmware_py.pins.records import RISING
from firmware_py.pins.trouble import Tally, Trouble
from firmware_py.pins.wiring import PinsError

MOST_READS = 64
"""How often a request is read in one go, so that endless chatter can't hold up all else."""

Hear = Callable[[int, bool | None], None]
"""Told of a change: ticks (kernel monotonic ns) and level (True high, False low, None lost)."""


class Line:
    """One input line. ``level`` is the last that was heard of, ``None`` while unknown."""

    __slots__ = ("hear", "last_ns", "level", "pull", "told")

    def __init__(self, pull: str, hear: Hear) -> None:
        self.pull = pull
        self.hear = hear
        self.level: bool | None = None
        self.last_ns = 0
        self.told = False


Change = tuple[int, Line, bool | None]
"""When (ns), which line, and what it became."""


class Part:
    """One live request, the offsets in it, and the sequence number of the last edge read."""

    __slots__ = ("offsets", "request", "seqno")

    def __init__(self, request: Request, offsets: list[int]) -> None:
        self.request = request
        self.offsets = offsets
        self.seqno = 0


class Bank:
    """All input lines that are in use on one chip.

    ``requested`` changes with each request that is made or given back. ``gaps`` counts the holes
    found in the kernel's edge numbers, each of them answered by an immediate reading of all levels.
    """

    def __init__(
        self, kernel: Kernel, chip: str, clock_ns: Callable[[], int] = time.monotonic_ns
    ) -> None:
        self.chip = chip
        self.gaps = 0
        self._kernel = kernel
        self._clock_ns = clock_ns
        self._lock = RLock()
        self._lines: dict[int, Line] = {}
        self._parts: list[Part] = []
        self.requested = 0
        self._stale = False
        self._losses = Tally(chip)

    def add(self, offset: int, pull: str, hear: Hear) -> None:
        """Take a line in, or change its pull; ``claim`` or the next resync requests it."""
        with self._lock:
            line = self._lines.get(offset)
            if line is not None and line.pull == pull and line.hear == hear:
                return
            self._lines[offset] = Line(pull, hear)
            self._stale = True

    def remove(self, offset: int) -> None:
        """Let go of a line; the kernel gets it back when the request is next made anew."""
        with self._lock:
            if self._lines.pop(offset, None) is None:
                return
            self._stale = True
            if not self._lines:
                self.release()

    def holds(self, offset: int) -> bool:
        """Whether the kernel still holds a line for us, removed or not."""
        with self._lock:
            return any(offset in part.offsets for part in self._parts)

    def claim(self) -> bool:
        """Request the lines if any were added since; say whether a request was made.

        A chip that is absent is not an error: its lines stay unknown until it answers.
        Errors: ``PinsError`` if the chip refuses, with the reason, or there is no header at all.
        """
        with self._lock:
            if not self._stale:
                return False
            try:
                changes = self._open(self._clock_ns())
            except ChipAbsentError as error:
                if self.chip == HEADER:
                    raise no_header(error) from error
                # The resync tells those who were told of a level before.
                self._give_up(error)
                changes = []
            except OSError as error:
                self.release()
                raise PinsError(self._refusal(error)) from error
            self._stale = False
            for _, line, level in changes:
                # A new line begins with its level and nobody is told. What changed on the others
                # while the request was made anew is left for the resync to tell.
                if not line.told:
                    line.level = level
            for line in self._lines.values():
                line.told = True
            return True

    def level(self, offset: int) -> bool | None:
        """Read the level of a claimed line now, ``None`` if it can't be had."""
        with self._lock:
            for part in self._parts:
                if offset in part.offsets:
                    try:
                        return bool(part.request.get_values([offset])[0])
                    except OSError:
                        # The resync will find out and tell; here it is enough not to know.
                        return None
            return None

    def parts(self) -> list[Part]:
        """Return the live requests, for the thread that waits on them."""
        with self._lock:
            return list(self._parts)

    def drain(self, part: Part) -> list[Change]:
        """Read what the kernel has for a request that is ready; return what changed."""
        with self._lock:
            # Made anew since the wait began: reading now could block.
            if part not in self._parts:
                return []
            gaps_before = self.gaps
            try:
                changes = self._take(self._read(part))
                if self.gaps > gaps_before:
                    changes += self._reconcile()
            except Exception as error:
                # Whatever it was, the true levels are not known now; the resync begins anew.
                return self._lose(error, self._clock_ns())
            return changes

    def resync(self) -> list[Change]:
        """Read all levels and return what differs from what was told; find a lost chip again."""
        with self._lock:
            if not self._lines:
                return []
            now_ns = self._clock_ns()
            try:
                if self._stale or not self._parts:
                    changes = self._take(self._open(now_ns))
                    self._stale = False
                else:
                    changes = self._reconcile()
            except Exception as error:
                return self._lose(error, now_ns)
            return changes

    def lose(self, why: str) -> list[Change]:
        """Give the chip up as lost, as when its request reports an error."""
        with self._lock:
            return self._lose(OSError(errno.ENODEV, why), self._clock_ns())

    def release(self) -> None:
        """Give all lines back to the kernel."""
        with self._lock:
            parts, self._parts = self._parts, []
            self.requested += 1
            for part in parts:
                try:
                    part.request.release()
                except OSError:
                    # A dead chip's request can't be given back, and need not be.
                    continue

    def troubles(self) -> tuple[Trouble, ...]:
        """Report the chip's losses and its lost edges, if there were any."""
        gaps = Trouble(self.chip, "edges were lost; all levels were read anew", self.gaps, False)
        return (*self._losses.report(), *((gaps,) if self.gaps else ()))

    def _open(self, now_ns: int) -> list[Change]:
        path, size = self._kernel.find(self.chip)
        beyond = [offset for offset in self._lines if offset >= size]
        if beyond:
            raise PinsError(
                f"GPIO chip {self.chip} has lines 0 to {size - 1}, so no line {min(beyond)}"
            )
        self.release()
        offsets = sorted(self._lines)
        for start in range(0, len(offsets), LINES_IN_REQUEST):
            some = offsets[start : start + LINES_IN_REQUEST]
            pulls = {offset: self._lines[offset].pull for offset in some}
            self._parts.append(Part(self._kernel.inputs(path, pulls), some))
            self.requested += 1
        self._losses.works()
        return self._differences(now_ns)

    def _read(self, part: Part) -> list[Change]:
        edges: list[Change] = []
        for at_ns, kind, offset, seqno, _ in part.request.read_edges():
            self.gaps += seqno != part.seqno + 1
            part.seqno = seqno
            line = self._lines.get(offset)
            if line is not None:
                edges.append((at_ns, line, kind == RISING))
        return edges

    def _read_waiting(self) -> list[Change]:
        """Read the edges that the kernel has ready, without blocking."""
        edges: list[Change] = []
        for part in self._parts:
            for _ in range(MOST_READS):
                some = self._read(part)
                if not some:
                    break
                edges += some
        return edges

    def _reconcile(self) -> list[Change]:
        """Bring what was told and the true levels together.

        Edges that wait in the kernel come first, so that a resync does not overtake them; a line
        whose edge came while the levels were read is left to that edge.
        """
        before = self._take(self._read_waiting())
        differences = self._differences(self._clock_ns())
        meanwhile = self._read_waiting()
        moved = {line for _, line, _ in meanwhile}
        missed = [change for change in differences if change[1] not in moved]
        return before + self._take(missed) + self._take(meanwhile)

    def _differences(self, now_ns: int) -> list[Change]:
        changes: list[Change] = []
        for part in self._parts:
            for offset, value in zip(
                part.offsets, part.request.get_values(part.offsets), strict=True
            ):
                line = self._lines.get(offset)
                if line is not None and line.level is not bool(value):
                    changes.append((now_ns, line, bool(value)))
        return changes

    def _take(self, changes: list[Change]) -> list[Change]:
        """Note changes as told; an edge to the level a line has already is none."""
        taken = []
        for at_ns, line, level in changes:
            if level is line.level:
                continue
            line.level = level
            # A resync can overtake an edge that was still in the kernel; time must not run back.
            line.last_ns = max(line.last_ns, at_ns)
            taken.append((line.last_ns, line, level))
        return taken

    def _lose(self, error: Exception, now_ns: int) -> list[Change]:
        self._give_up(error)
        return self._take([(now_ns, line, None) for line in self._lines.values()])

    def _give_up(self, error: Exception) -> None:
        if self._losses.standing:
            self._losses.why = str(error)
        else:
            self._losses.failed(error)
        self.release()

    def _refusal(self, error: OSError) -> str:
        lines = ", ".join(str(offset) for offset in sorted(self._lines))
        if error.errno == errno.EBUSY:
            cure = "one of them is in use by another program or a kernel driver; free it"
        elif error.errno in (errno.EACCES, errno.EPERM):
            cure = "this user may not use GPIO; add it to the group gpio"
        else:
            cure = "the chip may not report edges (an expander needs its interrupt wired)"
        return f"GPIO chip {self.chip} refuses lines {lines}: {error.strerror or error}; {cure}"

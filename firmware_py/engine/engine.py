"""The engine: one queue, and one thread that owns the core's state.

Readings, orders and deadlines all come through here. What the core answers goes to the pins
first, since a lamp must not wait for a disk, and then to the logbook.
"""

from __future__ import annotations

import gc
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from queue import Empty, SimpleQueue
from typing import TypeGuard

from firmware_py.core.core import Core
from firmware_py.core.entries import Entry, OutputEntry, Refused
from firmware_py.core.event import Settled
from firmware_py.core.names import Command
from firmware_py.core.orders import Order
from firmware_py.engine.audience import Audience
from firmware_py.engine.by_hand import Hands
from firmware_py.engine.clock import steady_us, wall_us
from firmware_py.engine.inflow import Inflow
from firmware_py.engine.ports import (
    Anew,
    Begin,
    Check,
    Checked,
    Diary,
    Flood,
    Given,
    Item,
    Listener,
    Moment,
    Pins,
    Stop,
    Turn,
    Work,
)
from firmware_py.engine.resuming import Earlier, differences, found, rebuild
from firmware_py.engine.startup import Standing, settle
from firmware_py.layout.model import Layout

FIRST_US = 1
"""The earliest time of a live line: 0 belongs to how things stood before."""

OVERTAKEN_US = 10_000_000
"""Nobody is asked for longer: by then a request is refused as stale before it comes here."""
TURNED = "a session was opened or closed meanwhile; look again, then ask again"


class Engine:
    """Drives one core for one session; ``put_reading`` and ``put`` are for any thread.

    ``put_reading`` queues a raw reading (steady microseconds, contact, made) and never waits.
    ``checked`` is the last check that came back through the queue. ``opened`` is whether the
    session is for work.
    """

    def __init__(  # noqa: PLR0913 - each is a seam that a test puts its own into
        self,
        layout: Layout,
        pins: Pins,
        diary: Diary,
        *,
        begin: Begin,
        anew: Anew | None = None,
        earlier: Earlier | None = None,
        listeners: Sequence[Listener] = (),
        opened: bool = True,
        clock_us: Callable[[], int] = steady_us,
        wall_us: Callable[[], int] = wall_us,
    ) -> None:
        self._layout = layout
        self._pins = pins
        self._diary = diary
        self._begin = begin
        self._anew = anew
        self._earlier = earlier
        self._audience = Audience(listeners, diary.remark)
        self._clock_us = clock_us
        self._wall_us = wall_us
        self._queue: SimpleQueue[Item] = SimpleQueue()
        self._inflow = Inflow(self._queue)
        self.put_reading = self._inflow.put_reading
        self._edges = {contact.name: 0 for contact in layout.contacts}
        self._raw: dict[str, bool | None] = {}
        self._settled: dict[str, bool | None] = {}
        self._origin_us = 0
        self._turned_us = 0
        self._hands = Hands(layout, pins, diary, lambda: self._core().outputs(), opened=opened)
        self.core: Core | None = None
        self.checked: Checked | None = None

    def put(self, item: Given | Work | Check | Turn | Stop) -> None:
        """Queue anything else. Never waits."""
        self._queue.put(item)

    @property
    def now_us(self) -> int:
        """Session time now."""
        return self._clock_us() - self._origin_us

    @property
    def drops(self) -> int:
        """How many raw readings came too fast to be judged, since the start."""
        return self._inflow.drops

    @property
    def raised(self) -> int:
        """How often a listener raised, since the start."""
        return self._audience.raised

    def run(self) -> int | None:
        """Serve until ``Stop``: when the session ended, or ``None`` if it never began.

        However it ends, by ``Stop`` or by an exception, the pins are made safe first.
        """
        try:
            self._pins.safe()
            if not self._settle_in():
                return None
            return self._serve()
        finally:
            self._pins.safe()

    # A session's beginning.

    def _settle_in(self) -> bool:
        standing = Standing(self._layout, self._pins.levels(), self._clock_us())
        settled = settle(standing, self._queue, self._clock_us)
        if settled is None:
            return False
        levels, others = settled
        if self._earlier is None:
            self._begin_anew(levels)
        else:
            self._go_on(self._earlier, levels)
        # What was built stays for the whole session: the collector need not look at it again.
        gc.collect()
        gc.freeze()
        gc.enable()  # A start goes without it, for nothing that a start builds can go.
        for (of, output), shows in self._core().outputs().items():
            self._pins.show(of, output, shows)
        for item in others:
            self._queue.put(item)
        self._read_unsettled(standing.levels)
        return True

    def _begin_anew(self, levels: Mapping[str, bool | None]) -> None:
        self._origin_us = self._clock_us()
        self.core = core = Core(self._layout, levels, notes=True)
        self._raw, self._settled = dict(levels), dict(levels)
        self._begin(core)
        self._note_outset(levels)

    def _note_outset(self, levels: Mapping[str, bool | None]) -> None:
        with self._diary.together():
            for name, made in levels.items():
                self._diary.tape(0, name, made)
                self._note_standing(name)

    def _go_on(self, earlier: Earlier, levels: Mapping[str, bool | None]) -> None:
        rebuilt = rebuild(self._layout, earlier)
        self.core = core = rebuilt.core
        self._raw, self._settled = core.raw(), core.settled()
        self._origin_us = self._clock_us() - core.now_us
        self._begin(core)
        with self._diary.together():
            self._write(rebuilt.unlogged)
        for name, level in differences(dict(self._raw), levels):
            said = found(self._layout, name, self._settled[name], level)
            with self._diary.together():  # What was found is told once, however often we stop.
                self._diary.remark(said, core.now_us)
                self._read(self._clock_us(), name, None)
                self._read(self._clock_us(), name, level)
        for name in levels:
            self._note_standing(name)

    def _read_unsettled(self, raw: Mapping[str, bool | None]) -> None:
        """Read what had no time to settle, so that it is known once it has, if it never moves."""
        now_us = self._clock_us()
        for name, made in raw.items():
            if self._raw[name] is not made:
                self._read(now_us, name, made)

    def _turn(self, turn: Turn) -> None:
        """One session ends and the next begins, with every contact as the core believes it now.

        Nothing is forgotten but what belongs to a session: violations, phases, a foreman's word.
        """
        # First, so that no hand is left at a pin when the new session's log knows of none.
        self._hands.end("a session is opened or closed", self._moment())
        ended_us = self._end()
        raw = dict(self._raw)
        levels = {name: made if self._settled[name] is made else None for name, made in raw.items()}
        layout = self._layout
        if turn.wait_scale is not None:
            layout = replace(layout, wait_scale=turn.wait_scale)
        core = Core(layout, levels, notes=True)
        why = "there is no log" if self._anew is None else self._anew(core, turn.opened, ended_us)
        if why is None:
            self._turned_us = self._wall_us()
            self.core = core
            self._origin_us = self._clock_us()
            self._raw, self._settled = dict(levels), dict(levels)
            self._note_outset(levels)
            self._hands.opened = turn.opened
            for (of, output), shows in core.outputs().items():
                self._pins.show(of, output, shows)
            self._read_unsettled(raw)
        if turn.request is not None:
            self._diary.answer(turn.request, why is None, why)

    # Its course.

    def _serve(self) -> int:
        core, hands = self._core(), self._hands
        get = self._queue.get
        while True:
            deadline_us = core.deadline_us
            if hands:
                deadline_us = self._earliest(deadline_us)
            try:
                if deadline_us is None:
                    item = get()
                else:
                    wait_us = self._origin_us + deadline_us - self._clock_us()
                    item = get(timeout=wait_us / 1_000_000) if wait_us > 0 else get(block=False)
            except Empty:
                self._pass_time()
                continue
            if isinstance(item, tuple):
                self._read(*item)
            elif isinstance(item, Given):
                self._obey(item)
            elif isinstance(item, Work):
                self._work(item)
            elif isinstance(item, Check):
                self._check(item)
            elif isinstance(item, Flood):
                self._read_anew(self._inflow.take_drops())
            elif isinstance(item, Turn):
                self._turn(item)
                core = self._core()
            else:
                self._hands.end("the engine was stopped", self._moment())
                return self._end()

    def _read(self, stamp_us: int, contact: str, made: bool | None) -> None:
        core = self._core()
        if self._raw[contact] is made:
            return  # A resync that found nothing new.
        self._raw[contact] = made
        self._edges[contact] += 1
        t_us = self._time(stamp_us)
        entries = core.reading(t_us, contact, made)
        self._show(entries)
        if core.deadline_us == t_us:  # With no time to settle, the lamp goes before the log too.
            settled = core.advance(t_us)
            self._show(settled)
            entries = [*entries, *settled]
        with self._diary.together():
            self._diary.tape(t_us, contact, made)
            self._note_standing(contact)
            self._write(entries)
        self._look_at_hands()

    def _obey(self, given: Given) -> None:
        if given.still is not None and not given.still():
            return
        if given.request is not None and self._is_overtaken(given):
            self._diary.answer(given.request, False, TURNED)
            return
        t_us = self._time(self._clock_us())
        entries = self._core().order(t_us, given.order)
        self._show(entries)
        with self._diary.together():
            self._note_order(given, t_us, entries)

    def _is_overtaken(self, given: Given | Work) -> bool:
        """Whether a turn came after the request was left, and not merely a step of the clock."""
        return given.left_us is not None and 0 < self._turned_us - given.left_us <= OVERTAKEN_US

    # Hands at outputs.

    def _work(self, work: Work) -> None:
        with self._diary.together():
            overtaken = self._is_overtaken(work)
            why = TURNED if overtaken else self._hands.take(work, self._known(), self._moment())
            self._diary.answer(work.request, why is None, why)

    def _look_at_hands(self) -> None:
        if self._hands:
            with self._diary.together():
                self._hands.look(self._known(), self._moment())

    def _earliest(self, deadline_us: int | None) -> int | None:
        """The core's deadline or the first hand's, in the session's time."""
        hand_us = self._hands.deadline_us
        if hand_us is None:
            return deadline_us
        hand_us -= self._origin_us
        return hand_us if deadline_us is None else min(deadline_us, hand_us)

    def _known(self) -> dict[str, bool | None]:
        """What contacts are: unknown for as long as one's raw level says otherwise."""
        settled = self._settled
        return {name: raw if settled[name] is raw else None for name, raw in self._raw.items()}

    def _moment(self) -> Moment:
        now_us = self._clock_us()
        return Moment(now_us, max(now_us - self._origin_us, FIRST_US), self._wall_us())

    def _note_order(self, given: Given, t_us: int, entries: Sequence[Entry]) -> None:
        order = given.order
        self._diary.tape(
            t_us,
            command=order.command,
            spur=order.spur,
            violation=order.violation,
            cars=order.cars,
        )
        self._write(entries)
        refused = next((e for e in entries if _refuses(e, order, t_us)), None)
        if refused is None and order.command is Command.ACKNOWLEDGE and order.violation:
            self._diary.acknowledged(order.violation, t_us, given.note)
        if given.request is not None:
            self._diary.answer(given.request, refused is None, refused.why if refused else None)

    def _check(self, check: Check) -> None:
        now_us = self.now_us
        self._pass_time()
        self._pins.refresh()
        self._diary.pulse("guarding")
        self.checked = Checked(check.put_us, self._origin_us + now_us)

    def _pass_time(self) -> None:
        """Serve what is due, of the core and of hands.

        Only what is due: a core told the time for nothing would take late edges as later still.
        """
        core, now_us = self._core(), self.now_us
        if core.deadline_us is not None and core.deadline_us <= now_us:
            self._publish(core.advance(max(now_us, core.now_us)))
        self._look_at_hands()

    def _read_anew(self, dropped: Mapping[str, int]) -> None:
        """Read contacts whose readings were dropped: unknown for now, so they settle anew.

        Nobody saw how long they stood as they stand, and nobody is to blame for what was missed.
        """
        if not dropped:
            return
        names = ", ".join(sorted(dropped))
        self._diary.remark(
            f"{sum(dropped.values())} raw readings came too fast to be judged and were dropped; "
            f"read anew: {names}.",
            self._core().now_us,
        )
        levels = self._pins.levels()
        for name in dropped:
            self._read(self._clock_us(), name, None)
            self._read(self._clock_us(), name, levels[name])

    def _end(self) -> int:
        core = self._core()
        t_us = self._time(self._clock_us())
        self._publish(core.advance(t_us))
        return t_us

    def _time(self, stamp_us: int) -> int:
        # An edge that the kernel stamped before a deadline already served comes a little late;
        # the core's time never falls.
        return max(stamp_us - self._origin_us, self._core().now_us, FIRST_US)

    # What comes of it.

    def _publish(self, entries: Sequence[Entry]) -> None:
        self._show(entries)
        with self._diary.together():
            self._write(entries)

    def _show(self, entries: Sequence[Entry]) -> None:
        for entry in entries:
            if type(entry) is OutputEntry and (entry.of, entry.output) not in self._hands:
                self._pins.show(entry.of, entry.output, entry.shows)

    def _write(self, entries: Sequence[Entry]) -> None:
        now_us = self._wall_us()
        for entry in entries:
            self._diary.entry(entry, now_us)
            self._audience.hear(entry)
        for note in self._core().take_notes():
            if isinstance(note, Settled):
                self._settled[note.contact] = note.made
                self._note_standing(note.contact)
            else:
                self._diary.repeat(note.number, note.times, note.t_us)

    def _note_standing(self, contact: str) -> None:
        raw, settled = self._raw[contact], self._settled[contact]
        self._diary.standing(contact, raw, settled, self._edges[contact], self._wall_us())

    def _core(self) -> Core:
        assert self.core is not None, "the session has begun"
        return self.core


def _refuses(entry: Entry, order: Order, t_us: int) -> TypeGuard[Refused]:
    """Whether an entry refuses this very order, and not a button that was pressed just then."""
    return isinstance(entry, Refused) and (entry.t_us, entry.command) == (t_us, order.command)

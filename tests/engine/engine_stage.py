"""An engine on a stage of our own: its clock only moves when it waits, and nothing is real.

``Script`` stands in for the engine's queue. Waiting on it moves the clock to the next cue or to
the end of the wait, so that a session of hours plays at once, the same way each time.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass, field
from queue import Empty
from typing import Any

from pytest_mock import MockerFixture

from firmware_py.core.core import Core
from firmware_py.core.entries import Entry
from firmware_py.core.names import Shows
from firmware_py.engine.engine import Engine
from firmware_py.engine.ports import Anew, Item, Stop
from firmware_py.layout.model import MADE_AT_REST, Layout
from firmware_py.layout.reading import parse_layout

TOML = """
[layout]
name = "Slate Basin"
scale = "HO"

[times]
settle = 0.02
clear_after = 2.0
throw = 5.0
relock_within = 60.0

[[switch]]
id = "mill-switch"
lock = "padlock"
contacts = { hasp = 5, normal = 6, reverse = 13, detector = 19 }
lamps = { green = 20, red = 21, white = 16 }
bolt = 12

[[spur]]
id = "mill"
switch = "mill-switch"
foreman = "host"
contacts = { detector = 26 }

[[flag]]
id = "mill-flag"
spur = "mill"
contacts = { rack = 24 }
"""

BEGAN_US = 7_000_000_000
"""What the steady clock says as the engine starts: some two hours since the machine did."""
SETTLED_IN_US = 2_000_000
"""How long the stage's layout takes to settle: its detectors' ``clear_after``."""

LAYOUT = parse_layout(TOML, "basin.toml")


class Clock:
    """A steady clock that stands still until somebody waits."""

    def __init__(self, now_us: int = BEGAN_US) -> None:
        self.now_us = now_us

    def __call__(self) -> int:
        return self.now_us


class Script:
    """The engine's queue. ``cues`` are (steady microseconds, item), in order; then it stops."""

    def __init__(self, clock: Clock, cues: Sequence[tuple[int, Item]]) -> None:
        self._clock = clock
        self._cues = deque(cues)
        self._put: deque[Item] = deque()

    def put(self, item: Item) -> None:
        self._put.append(item)

    def get(self, block: bool = True, timeout: float | None = None) -> Item:
        if self._put:
            return self._put.popleft()
        until = self._clock.now_us
        if block and timeout is not None:
            until += max(round(timeout * 1_000_000), 1)
        elif block:
            until = self._cues[0][0] if self._cues else until
        if self._cues and self._cues[0][0] <= until:
            at_us, item = self._cues.popleft()
            self._clock.now_us = max(self._clock.now_us, at_us)
            return item
        self._clock.now_us = until
        if block and timeout is None:
            return Stop()
        raise Empty


@dataclass
class Wires:
    """Pins that note what is done to them, in ``did``, which the diary shares."""

    did: list[tuple[Any, ...]]
    levels_now: dict[str, bool | None]

    def levels(self) -> dict[str, bool | None]:
        self.did.append(("levels",))
        return dict(self.levels_now)

    def show(self, of: str, output: str, shows: Shows) -> None:
        self.did.append(("show", of, output, shows))

    def refresh(self) -> None:
        self.did.append(("refresh",))

    def safe(self) -> tuple[str, ...]:
        self.did.append(("safe",))
        return ()


@dataclass
class Notebook:
    """A diary that notes everything in ``did``."""

    did: list[tuple[Any, ...]]
    can_write: Callable[[], bool] = lambda: True

    @property
    def writes(self) -> bool:
        return self.can_write()

    def tape(
        self,
        t_us: int,
        contact: str | None = None,
        made: bool | None = None,
        *,
        command: str | None = None,
        spur: str | None = None,
        violation: int | None = None,
        cars: int | None = None,
    ) -> None:
        self.did.append(("tape", t_us, contact, made, command, spur, violation, cars))

    def entry(self, entry: Entry, wall_us: int) -> None:
        self.did.append(("entry", entry, wall_us))

    def repeat(self, number: int, times: int, t_us: int) -> None:
        self.did.append(("repeat", number, times, t_us))

    def acknowledged(self, number: int, t_us: int, note: str | None = None) -> None:
        self.did.append(("acknowledged", number, t_us, note))

    def standing(
        self, contact: str, raw: bool | None, settled: bool | None, edges: int, wall_us: int
    ) -> None:
        self.did.append(("standing", contact, raw, settled, edges))

    def together(self) -> AbstractContextManager[None]:
        return nullcontext()

    def answer(self, request_id: int, accepted: bool, why: str | None = None) -> None:
        self.did.append(("answer", request_id, accepted, why))

    def by_hand(self, output: str, shows: str, **about: Any) -> None:  # noqa: ANN401
        self.did.append(("by-hand", output, shows, about["whence"], about["until_t_us"]))

    def hand_off(self, output: str) -> None:
        self.did.append(("hand-off", output))

    def remark(self, text: str, t_us: int | None = None) -> None:
        self.did.append(("remark", text, t_us))

    def pulse(self, state: str) -> None:
        self.did.append(("pulse", state))


@dataclass
class Stage:
    """An engine with its clock, its wires and its notebook; ``play`` runs it to its end.

    A cue's time is in microseconds since the engine was started, not since the session began.
    """

    mocker: MockerFixture
    layout: Layout = LAYOUT
    levels: dict[str, bool | None] = field(default_factory=dict)
    listener: Callable[[Entry], None] = lambda entry: None
    wall_us: Callable[[], int] = lambda: 1_000
    did: list[tuple[Any, ...]] = field(default_factory=list)
    clock: Clock = field(default_factory=Clock)
    opened: bool = True
    anew: Anew | None = None
    writes: Callable[[], bool] = lambda: True

    def play(self, cues: Sequence[tuple[int, Item]] = ()) -> int | None:
        script = Script(self.clock, [(BEGAN_US + at_us, item) for at_us, item in cues])
        self.mocker.patch("firmware_py.engine.engine.SimpleQueue", return_value=script)
        rest: dict[str, bool | None] = {
            c.name: c.role in MADE_AT_REST for c in self.layout.contacts
        }
        engine = Engine(
            self.layout,
            Wires(self.did, rest | self.levels),
            Notebook(self.did, self.writes),
            begin=self.begin,
            anew=self.anew,
            opened=self.opened,
            listeners=(self.listener,),
            clock_us=self.clock,
            wall_us=self.wall_us,
        )
        return engine.run()

    def begin(self, core: Core) -> None:
        self.did.append(("begin", self.clock.now_us - BEGAN_US, core.settled()))

    def noted(self, kind: str) -> list[tuple[Any, ...]]:
        """What was done of one kind, without the kind."""
        return [done[1:] for done in self.did if done[0] == kind]

    @property
    def entries(self) -> list[Entry]:
        return [entry for entry, _ in self.noted("entry")]


def reading(at_us: int, contact: str, made: bool | None, late_us: int = 0) -> tuple[int, Item]:
    """A cue: an edge that the kernel stamped ``late_us`` before it comes out of the queue."""
    return at_us, (BEGAN_US + at_us - late_us, contact, made)

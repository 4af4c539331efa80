"""A plant at work, and a witness: a core of the test's own that is told what the engine's was.

Lamps are right if the pins show what the witness says. Nothing asserts how long anything takes:
waiting ends when what is waited for is there, or after a minute in which it never came.
"""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from io import BytesIO
from pathlib import Path
from types import TracebackType
from typing import Any, TypeVar

from firmware_py.core.core import Core
from firmware_py.core.entries import Entry
from firmware_py.core.names import Command, Shows
from firmware_py.core.orders import Order
from firmware_py.engine.assembly import Plant, Settings
from firmware_py.engine.ports import Diary, Given
from firmware_py.logbook.opening import logbook_url, open_engine
from firmware_py.logbook.reading import Reader
from firmware_py.logbook.records import SessionRecord
from firmware_py.logbook.tapes import tape_lines
from firmware_py.pins.drives import LEVELS
from firmware_py.pins.drives import Output as Kind
from firmware_py.tape.lines import line_of
from firmware_py.tape.reading import TapeReader
from firmware_py.tape.replay import replay
from web.live.follow import Follower
from web.live.hub import Hub

Read = TypeVar("Read")
GENEROUS_S = 20.0
TOML = """
[layout]
name = "Gravel Siding"
scale = "HO"

[times]
settle = 0.004
clear_after = 0.03
throw = 30.0
relock_within = 30.0
repeat_within = 0.01

[[switch]]
id = "pit-switch"
lock = "padlock"
contacts = { hasp = 5, normal = 6, reverse = 13, detector = 19 }
lamps = { green = 20, red = 21, white = 16 }
bolt = 12

[[switch]]
id = "mine-switch"
lock = "padlock"
contacts = { hasp = "box:0", normal = "box:1", reverse = "box:2" }
lamps = { green = 22, red = 23, white = 27 }

[[spur]]
id = "pit"
switch = "pit-switch"
foreman = "host"
power = 17
contacts = { detector = 26 }

[[spur]]
id = "mine"
switch = "mine-switch"
foreman = "none"

[[flag]]
id = "pit-flag"
spur = "pit"
contacts = { rack = 24 }
lamp = 25
"""


def until(what: Callable[[], object], why: Callable[[], object] = lambda: "") -> None:
    """Wait until something is so."""
    end_s = time.monotonic() + GENEROUS_S
    while not what():
        assert time.monotonic() < end_s, f"it never came to pass {why()}"
        time.sleep(0.02)


def waiting_for(event: threading.Event) -> Callable[[Entry], None]:
    """A listener that holds the engine's thread up until something has happened."""

    def hear(entry: Entry) -> None:
        event.wait(GENEROUS_S)

    return hear


@dataclass
class Witness:
    """Stands before the diary and keeps what the core was told, for a core of its own."""

    diary: Diary
    lines: list[tuple[int, str | Order, bool | None]] = field(default_factory=list)

    def tape(
        self,
        t_us: int,
        contact: str | None = None,
        made: bool | None = None,
        **order: Any,  # noqa: ANN401 - as the diary has it
    ) -> None:
        if contact is not None:
            self.lines.append((t_us, contact, made))
        else:
            about = (order["spur"], order["violation"], order["cars"])
            self.lines.append((t_us, Order(Command(order["command"]), *about), None))
        self.diary.tape(t_us, contact, made, **order)

    def __getattr__(self, name: str) -> Any:  # noqa: ANN401 - the diary's own
        return getattr(self.diary, name)


@dataclass
class Manager:
    """A service manager that notes what it is told."""

    feed_every_s: float | None = 0.1
    told: list[str] = field(default_factory=list)

    def tell(self, *words: str) -> bool:
        self.told += words
        return True

    @property
    def fed(self) -> int:
        return self.told.count("WATCHDOG=1")


class Shift:
    """A plant that guards, from entering to leaving."""

    def __init__(self, folder: Path, *, simulated: bool = True, toml: str = TOML) -> None:
        layout = folder / "gravel.toml"
        layout.write_text(toml, "utf-8")
        self.logbook = folder / "gravel.sqlite"
        self.manager = Manager()
        self.plant = Plant(Settings(layout, str(self.logbook), simulated, seed=1), self.manager)
        self.engine = self.plant.engine
        self.board = self.plant.board
        self.keeper = self.plant._keeper
        self.witness = Witness(self.keeper)
        self.engine._diary = self.witness
        self.failed: list[BaseException] = []
        self._thread = threading.Thread(target=self._run, name="engine", daemon=True)

    def __enter__(self) -> Shift:
        self._thread.start()
        until(lambda: self.plant.began.is_set() or self.failed, lambda: self.failed)
        until(self.lamps_right)
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.plant.end_session()
        self._thread.join(GENEROUS_S)
        assert not self._thread.is_alive()

    def _run(self) -> None:
        try:
            self.plant.run()
        except BaseException as error:
            self.failed.append(error)

    def hand(self, contact: str, made: bool | None) -> None:
        """Move a contact, and let it settle before the next."""
        self.plant.hand(contact, made)
        until(lambda: self.core.settled()[contact] is made)

    def order(self, command: str, spur: str | None = None, violation: int | None = None) -> None:
        """Give an order, and see that the core was given it."""
        before = len(self.witness.lines)
        self.plant.give(Given(Order(Command(command), spur, violation)))
        until(lambda: len(self.witness.lines) > before)

    @property
    def core(self) -> Core:
        assert self.engine.core is not None
        return self.engine.core

    def own_core(self) -> Core:
        """A core of the test's own, told all that the engine's was told, up to now."""
        lines = list(self.witness.lines)
        levels = {line[1]: line[2] for line in lines if line[0] == 0}
        core = Core(self.plant.layout, levels)  # type: ignore[arg-type] # Only contacts at 0.
        for t_us, what, made in lines:
            if isinstance(what, Order):
                core.order(t_us, what)
            elif t_us:
                core.reading(t_us, what, made)
        core.advance(max(self.engine.now_us, core.now_us))
        return core

    def lamps_right(self) -> bool:
        """Whether every lamp, bolt and relay is as the test's own core says, wires and all."""
        wanted = self.own_core().outputs()
        shown = self.board.shown()
        return shown == wanted and all(
            shows is Shows.FLASHING or self._energised(key) is LEVELS[Kind(key[1])][shows]
            for key, shows in wanted.items()
        )

    def _energised(self, key: tuple[str, str]) -> bool:
        try:
            return bool(self.board.outputs[key].value)
        except OSError:
            return False

    def shows(self, of: str, output: str) -> Shows:
        """What an output shows by the test's own core; first, that the wires show the same."""
        until(self.lamps_right, lambda: (self.own_core().outputs(), self.board.shown()))
        return self.own_core().outputs()[of, output]

    def trespass(self) -> None:
        """Open the pit's hasp unreleased and shut it: a violation, and a sight for the lamps."""
        self.hand("pit-switch.hasp", False)
        assert self.shows("pit-switch", "red") is Shows.FLASHING
        assert self.shows("pit-switch", "green") is Shows.OFF
        assert self.shows("pit", "power") is Shows.OFF
        self.hand("pit-switch.hasp", True)
        assert self.shows("pit-switch", "bolt") is Shows.SHUT

    # The log, read by a stranger.

    def read(self, what: Callable[[Reader], Read]) -> Read:
        """Read the logbook as it is on the disk now."""
        database = open_engine(logbook_url(str(self.logbook)))
        reader = Reader(database)
        try:
            return what(reader)
        finally:
            reader.close()
            database.dispose()

    def session(self) -> SessionRecord:
        """The session in the log."""
        session = self.read(lambda reader: reader.session())
        assert session is not None
        return session

    def remarks(self) -> list[str]:
        """The remarks, newest first."""
        remarks: Sequence[Any] = self.read(lambda reader: reader.remarks(limit=500))
        return [remark.text for remark in remarks]

    def until_said(self, *words: str) -> None:
        """Wait for a remark that has all these words, on the board too."""
        until(
            lambda: any(all(word in text for word in words) for text in self.remarks()),
            self.remarks,
        )
        shown = [remark["text"] for remark in self.board_shows()["remarks"]]
        assert any(all(word in text for word in words) for text in shown), shown

    def board_shows(self) -> dict[str, Any]:
        """What a screen that looks at the logbook now draws."""

        def look(reader: Reader) -> dict[str, Any]:
            follower = Follower(reader, Hub(2))
            follower.look()
            state = follower.hub.state()
            assert state is not None
            shown: dict[str, Any] = json.loads(state.data)
            return shown

        shown: dict[str, Any] = self.read(look)
        return shown

    def logged(self) -> list[dict[str, Any]]:
        """The entries in the log, oldest first."""
        session = self.session()
        entries = self.read(lambda reader: reader.entries(session.id, limit=100_000))
        return [entry.line for entry in entries]

    def violations(self) -> list[str]:
        """The rules of all violations in the log, oldest first."""
        session = self.session()
        found = self.read(lambda reader: reader.violations(session.id))
        return [violation.rule for violation in reversed(found)]

    def nothing_lost(self) -> None:
        """See that the log is whole: it holds what the witness saw, and replays to its entries."""
        seen = len(self.witness.lines)
        assert self.keeper.flush(GENEROUS_S)
        logged = self.logged()  # Before the tape, which goes on meanwhile.
        database = open_engine(logbook_url(str(self.logbook)))
        try:
            session = self.session()
            tape = [json.dumps(line) for line in tape_lines(database, session.id)]
        finally:
            database.dispose()
        told = [(t_us, made) for t_us, what, made in self.witness.lines if isinstance(what, str)]
        kept = [
            (round(line["t"] * 1e6), line["made"])
            for line in map(json.loads, tape)
            if "contact" in line
        ]
        assert len(kept) >= sum(isinstance(line[1], str) for line in self.witness.lines[:seen])
        assert kept == told[: len(kept)]
        lines = TapeReader(self.plant.layout, BytesIO("\n".join(tape).encode()), "tape")
        replayed = [line_of(entry) for entry in replay(self.plant.layout, lines)]
        assert logged == replayed[: len(logged)]
        assert session.tape_gap is None

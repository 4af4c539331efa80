"""An engine on the machine's real lines, with its logbook, in a thread of the test's process."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any, Self

from firmware_py.core.orders import Order
from firmware_py.engine.assembly import Plant, Settings
from firmware_py.engine.resuming import tape_of
from firmware_py.layout.model import MADE_AT_REST, HeaderPin
from firmware_py.layout.reading import parse_layout
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.reading import Reader
from firmware_py.logbook.records import EntryRecord, StandingRecord
from firmware_py.logbook.requests import leave_order
from firmware_py.logbook.tapes import tape_lines
from firmware_py.tape.lines import line_of
from firmware_py.tape.replay import replay

from .sim import SimChip

WITHIN_S = 120.0
Line = dict[str, Any]


def until(true: Callable[[], Any], why: str = "it never came to pass") -> Any:  # noqa: ANN401
    """Wait until something is so, and give it."""
    end_s = time.monotonic() + WITHIN_S
    while not (found := true()):
        assert time.monotonic() < end_s, why
        time.sleep(0.02)
    return found


class Guarding:
    """A plant that guards from ``with`` on; ``chips`` are the pretended ones by their names.

    A contact at a header pin is on the chip named ``header``.
    """

    def __init__(self, folder: Path, text: str, chips: Mapping[str, SimChip]) -> None:
        self.folder = folder
        self.layout = parse_layout(text, "here")
        self._file = folder / "layout.toml"
        self._file.write_text(text, encoding="utf-8")
        self.logbook = folder / "logbook.sqlite"
        self._chips = chips
        self._contacts = {contact.name: contact for contact in self.layout.contacts}
        self.plant: Plant | None = None
        self._thread: threading.Thread | None = None

    def __enter__(self) -> Self:
        self.plant = plant = Plant(Settings(self._file, str(self.logbook), False, opened=True))
        self._thread = threading.Thread(target=plant.run, name="engine")
        self._thread.start()
        until(plant.began.is_set, "the engine never came to guard")
        self._database = open_engine(str(self.logbook))
        self.reader = Reader(self._database)
        return self

    def __exit__(self, *_: object) -> None:
        assert self.plant is not None
        self.plant.stop()
        if self._thread is not None:
            self._thread.join()
        self.reader.close()
        self._database.dispose()

    def place(self, contact: str) -> tuple[SimChip, int]:
        """Which chip's line a contact is at."""
        pin = self._contacts[contact].pin
        assert pin is not None
        if isinstance(pin, HeaderPin):
            return self._chips["header"], pin.bcm
        return self._chips[pin.chip], pin.line

    def move(self, contact: str, made: bool) -> None:
        """Make or break a contact, as a hand at the layout does."""
        chip, line = self.place(contact)
        chip.hold(line, made is not self._contacts[contact].inverted)

    @property
    def at_rest(self) -> set[str]:
        """The contacts that are made while every spur is at rest."""
        return {c.name for c in self.layout.contacts if c.role in MADE_AT_REST}

    def rest(self, made: Iterable[str]) -> None:
        """Before it guards: these contacts are made, all others open."""
        names = set(made)
        for contact in self._contacts:
            self.move(contact, contact in names)

    def obey(self, order: Order) -> None:
        """Have an order given as the screen gives it, and wait for the answer."""
        number = leave_order(
            self._database,
            order.command,
            spur=order.spur,
            violation=order.violation,
            cars=order.cars,
            wall_us=time.time_ns() // 1000,
        )
        until(lambda: self.reader.request(number).answered_wall_us, f"{order} has no answer")

    def standing(self, contact: str) -> StandingRecord:
        """How the log says that a contact stands."""
        return self.reader.standing()[contact]

    def settles(self, contact: str, made: bool | None) -> None:
        """Wait until the log says that a contact has settled so."""
        until(
            lambda: (s := self.reader.standing().get(contact)) is not None and s.settled is made,
            f"{contact} never settled to {made}",
        )

    def entries(self) -> list[EntryRecord]:
        """All that the newest session has logged."""
        session = self.reader.session()
        assert session is not None
        return self.reader.entries(session.id, limit=1_000_000)

    def remarks(self) -> list[str]:
        """What the engine had to say for itself."""
        return [remark.text for remark in self.reader.remarks(limit=1000)]

    def replayed(self) -> tuple[list[Line], list[Line]]:
        """What was logged, and what the replay of the session's own tape gives, to the letter.

        Entries are read first: of what the log takes down meanwhile, the tape knows more.
        """
        assert self.plant is not None
        assert self.plant._keeper.flush(WITHIN_S)
        session = self.reader.session()
        assert session is not None
        logged = [entry.line for entry in self.entries()]
        lines = tape_of(tape_lines(self._database, session.id))
        again = [line_of(entry) for entry in replay(self.layout, lines)]
        return logged, again[: len(logged)]

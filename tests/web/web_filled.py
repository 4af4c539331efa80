"""Fills a logbook as the engine does: the core judges, the keeper writes.

Run as a program it makes a logbook worth looking at and keeps its pulse beating, so that the
screen can be looked at: ``python tests/web/web_filled.py FILE [SECONDS]``.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

from firmware_py.core.core import Core
from firmware_py.core.entries import Entry
from firmware_py.core.event import Repeated
from firmware_py.core.names import Command
from firmware_py.core.orders import Order
from firmware_py.layout.reading import parse_layout
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.requests import Inbox
from firmware_py.logbook.writing import Keeper

LAYOUT = Path(__file__).with_name("tarn_hollow.toml")


class Filler:
    """A session in a logbook, driven by hand. Times are seconds of the session."""

    def __init__(
        self, url: str, *, simulated: bool = True, began_ago_s: float = 0.0, opened: bool = True
    ) -> None:
        self.engine = open_engine(url)
        self.keeper = Keeper(self.engine, group_s=0.01)
        self.text = LAYOUT.read_text(encoding="utf-8")
        self.layout = parse_layout(self.text, LAYOUT.name)
        self.inbox = Inbox(self.engine)
        self.simulated = simulated
        self.begin(began_ago_s, opened=opened)

    def begin(self, began_ago_s: float = 0.0, *, opened: bool = True) -> None:
        """Begin a session, the first or the next."""
        self.core = Core(self.layout, notes=True)
        self.began_us = time.time_ns() // 1_000 - round(began_ago_s * 1e6)
        self.raw = self.core.settled()
        self.edges = dict.fromkeys(self.raw, 0)
        self.session_id = self.keeper.begin_session(
            layout_name=self.layout.name,
            layout_path=LAYOUT.name,
            layout_toml=self.text,
            simulated=self.simulated,
            outset=outset(self.core),
            wall_us=self.began_us,
            opened=opened,
        )
        for contact in self.raw:
            self._stand(contact)
        self.beat()

    def beat(self, state: str = "guarding") -> None:
        """One beat of the pulse; flushed, so that it can be read at once."""
        self.keeper.pulse(state)
        assert self.keeper.flush()

    def read(self, t: float, contact: str, made: bool | None) -> None:
        """A raw reading."""
        self.raw[contact] = made
        self.edges[contact] += 1
        self.keeper.tape(round(t * 1e6), contact=contact, made=made)
        self._keep(self.core.reading(round(t * 1e6), contact, made))
        self._stand(contact)

    def order(self, t: float, command: Command, spur: str | None = None, **more: int) -> None:
        """A command."""
        self._keep(self.core.order(round(t * 1e6), Order(command, spur, **more)))
        if command is Command.ACKNOWLEDGE:
            self.keeper.acknowledged(more["violation"], round(t * 1e6))

    def wait(self, t: float) -> None:
        """Let time pass until ``t``."""
        self._keep(self.core.advance(round(t * 1e6)))
        assert self.keeper.flush()

    def answer(self, t: float) -> None:
        """Answer the requests that wait as an engine would, without judging hands."""
        for request in self.inbox.new():
            if request.kind == "hand":
                self.read(t, str(request.contact), request.made)
            else:
                spur = None if request.command == "acknowledge" else request.spur
                more = {"violation": request.violation, "cars": request.cars}
                given = {key: value for key, value in more.items() if value is not None}
                self.order(t, Command(str(request.command)), spur, **given)
            self.keeper.answer(request.id, True)

    def close(self) -> None:
        """Let go of the logbook."""
        self.keeper.close()
        self.inbox.close()
        self.engine.dispose()

    def _keep(self, entries: tuple[Entry, ...] | list[Entry]) -> None:
        for entry in entries:
            self.keeper.entry(entry, self.began_us + entry.t_us)
        for note in self.core.take_notes():
            if isinstance(note, Repeated):
                self.keeper.repeat(note.number, note.times, note.t_us)
            else:
                self._stand(note.contact)

    def _stand(self, contact: str) -> None:
        settled = self.core.settled()[contact]
        wall_us = self.began_us + self.core.now_us
        self.keeper.standing(contact, self.raw[contact], settled, self.edges[contact], wall_us)


def outset(core: Core) -> dict[str, object]:
    """How things stand as a session begins, in the logbook's shape."""
    outputs: dict[str, dict[str, str]] = {}
    for (of, output), shows in core.outputs().items():
        outputs.setdefault(of, {})[output] = shows.value
    return {
        "stages": {switch: stage.value for switch, stage in core.stages().items()},
        "phases": {spur: [phase.value, step] for spur, (phase, step) in core.phases().items()},
        "foremen": {spur: says.value for spur, says in core.foremen().items()},
        "outputs": outputs,
        "faults": [[fault.value, at] for fault, at in core.faults()],
    }


def busy_evening(filler: Filler) -> None:
    """Something of everything: asked, opening, working, irregular, faults, violations, speeds."""
    filler.read(10, "tannery-switch.normal", False)  # moved while locked
    filler.read(12, "tannery-switch.normal", True)
    filler.wait(30)
    filler.order(40, Command.ACKNOWLEDGE, violation=1)
    filler.read(60, "quarry-switch.detector", True)
    filler.read(61.5, "quarry.detector", True)  # too fast
    filler.read(70, "quarry-switch.detector", False)
    filler.order(300, Command.ACKNOWLEDGE, violation=2)
    filler.order(400, Command.ASK, "coal")
    filler.read(410, "coal-switch.hasp", False)
    filler.read(420, "coal-switch.normal", False)
    filler.read(421, "coal-switch.reverse", True)
    filler.read(430, "coal-derail.hasp", False)
    filler.read(434, "coal-derail.on", False)
    filler.read(440, "coal-switch.detector", True)
    filler.order(500, Command.ASK, "quarry")
    filler.order(520, Command.RELEASE, "quarry")
    filler.read(524, "quarry-key.hook", False)
    filler.read(530, "rope-switch.normal", None)  # a cut wire
    filler.read(560, "tannery-switch.hasp", False)
    filler.wait(575)
    filler.read(576, "tannery-switch.normal", False)
    filler.read(577, "tannery-switch.reverse", True)
    filler.read(590, "tannery-switch.hasp", True)  # locked off normal
    filler.wait(598)
    filler.order(600, Command.ASK, "dairy")
    filler.order(610, Command.START_BRAKE_TEST, "coal", cars=8)
    filler.wait(612)


def main() -> None:
    """Fill a logbook, then beat and answer for a while."""
    seconds = float(sys.argv[2]) if len(sys.argv) > 2 else 3600.0
    filler = Filler(sys.argv[1], began_ago_s=615.0)
    busy_evening(filler)
    filler.keeper.remark("Session begun on simulated pins", 0)
    filler.keeper.remark("The tannery's foreman will answer in 31 s", 560_000_000)
    last = time.monotonic() + seconds
    looks = 0
    while time.monotonic() < last:
        now = (time.time_ns() / 1_000 - filler.began_us) / 1e6
        filler.wait(now)
        filler.answer(now)
        if looks % 20 == 0:
            filler.beat()
        looks += 1
        time.sleep(0.1)
    filler.close()


if __name__ == "__main__":
    main()

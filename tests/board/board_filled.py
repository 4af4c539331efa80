"""An evening on an invented layout of as many spurs as a test wants, for the board to show.

Run as a program it makes one and keeps it beating, so that it can be looked at:
``python tests/board/board_filled.py FILE [SPURS] [SECONDS]``.
"""

from __future__ import annotations

import sys
import threading
import time
from pathlib import Path

sys.path.append(str(Path(__file__).parents[1] / "web"))

from web_filled import Filler, outset
from web_screen import PIN

from firmware_py.core.core import Core
from firmware_py.core.names import Command
from firmware_py.core.orders import Order
from firmware_py.layout.reading import parse_layout
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.requests import Inbox
from firmware_py.logbook.screen.jobs import Car, Job, JobStop, save_jobs
from firmware_py.logbook.screen.pin import set_pin
from firmware_py.logbook.screen.ticks import Step, Tick, make_tick
from firmware_py.logbook.writing import Keeper

NAMES = (
    "Slate quarry",
    "Dairy",
    "Tannery",
    "Coal staithe",
    "Rope walk",
    "Cider press",
    "Glass house",
    "Paper mill",
)

HEAD = """[layout]
name = "Tarn Hollow"
scale = "HO"
clock_ratio = 6
"""

SPUR = """
[[switch]]
id = "s{n}-switch"
name = "{name} switch"
key = "s{n}-key"
contacts = {{ hasp = "c{n}:0", normal = "c{n}:1", reverse = "c{n}:2", detector = "c{n}:3" }}
lamps = {{ green = "c{n}:8", red = "c{n}:9", white = "c{n}:10" }}

[[spur]]
id = "s{n}"
name = "{name}"
switch = "s{n}-switch"
foreman = "host"
contacts = {{ detector = "c{n}:4" }}
power = "c{n}:11"

[[gate]]
id = "s{n}-gate"
name = "{name} gate"
spur = "s{n}"
contacts = {{ hasp = "c{n}:5", shut = "c{n}:6" }}

[[flag]]
id = "s{n}-flag"
name = "{name} flag"
spur = "s{n}"
contacts = {{ rack = "c{n}:7" }}

[[chock]]
id = "s{n}-chock"
name = "{name} chock"
spur = "s{n}"
contacts = {{ rack = "d{n}:0" }}

[[key]]
id = "s{n}-key"
name = "{name} key"
contacts = {{ hook = "d{n}:1" }}
"""

JOBS = (
    Job(
        "Slate drag",
        "Ada and Bo",
        6,
        "caboose",
        ("s1-key", "s3-key"),
        (JobStop("s1", (Car("Flat 21"),)), JobStop("s3", (), (Car("Hide car"),))),
    ),
    Job("Milk turn", "Cy", 3, "marker", ("s2-key",), (JobStop("s2"), JobStop("s4"))),
)


def layout_text(spurs: int) -> str:
    """The layout file with that many spurs, ``s1`` and so on."""
    blocks = (SPUR.format(n=n, name=name) for n, name in enumerate(NAMES[:spurs], 1))
    return HEAD + "".join(blocks)


class BoardFiller(Filler):
    """A filler on this file's layout. ``opened`` is whether the session is for work."""

    def __init__(self, url: str, text: str, *, opened: bool = True) -> None:
        self.engine = open_engine(url)
        self.keeper = Keeper(self.engine, group_s=0.01)
        self.text, self.layout = text, parse_layout(text, "board.toml")
        self.inbox = Inbox(self.engine)
        self.simulated = True
        self.opened = opened
        self.begin()

    def begin(self, began_ago_s: float = 0.0) -> None:
        self.core = Core(self.layout, notes=True)
        self.began_us = time.time_ns() // 1_000 - round(began_ago_s * 1e6)
        self.raw = self.core.settled()
        self.edges = dict.fromkeys(self.raw, 0)
        self.session_id = self.keeper.begin_session(
            layout_name=self.layout.name,
            layout_path="board.toml",
            layout_toml=self.text,
            simulated=True,
            outset=outset(self.core),
            opened=self.opened,
            wall_us=self.began_us,
        )
        for contact in self.raw:
            self._stand(contact)
        self.beat()

    def answer(self, t: float) -> None:
        """As an engine, with the notes that hosts write."""
        for request in self.inbox.new():
            given = {"violation": request.violation, "cars": request.cars}
            more = {key: value for key, value in given.items() if value is not None}
            command = Command(str(request.command))
            spur = None if command is Command.ACKNOWLEDGE else request.spur
            self._keep(self.core.order(round(t * 1e6), Order(command, spur, **more)))
            if command is Command.ACKNOWLEDGE:
                self.keeper.acknowledged(more["violation"], round(t * 1e6), request.note)
            self.keeper.answer(request.id, True)


class Evening:
    """A session that beats and answers by itself; what a test does comes in between."""

    def __init__(self, path: Path, spurs: int = 8, *, opened: bool = True) -> None:
        self.path = path
        self.filler = BoardFiller(str(path), layout_text(spurs), opened=opened)
        self.engine = open_engine(str(path))
        set_pin(self.engine, PIN)
        self.jobs = save_jobs(self.engine, "Tarn Hollow", JOBS, time.time_ns() // 1_000)
        self.at_s = 1.0
        self._lock = threading.Lock()
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def read(self, contact: str, made: bool | None) -> None:
        """A raw reading now; it is believed a moment later."""
        with self._lock:
            self.filler.read(self.at_s, contact, made)
            self._pass(1.0)

    def order(self, command: Command, spur: str) -> None:
        """A command now, as from a crew."""
        with self._lock:
            self.filler.order(self.at_s, command, spur)
            self._pass(0.1)

    def wait(self, seconds: float) -> None:
        """Let session time pass, without waiting for it."""
        with self._lock:
            self._pass(seconds)

    def here(self, job: int, stop: int = 0) -> None:
        """A crew ticks that it has come to a stop."""
        tick = Tick(self.jobs[job], stop, Step.HERE, 2**40, time.time_ns() // 1_000)
        make_tick(self.engine, self.filler.session_id, tick)

    def busy(self) -> None:
        """Something of everything that a row can show, on eight spurs."""
        self.order(Command.ASK, "s1")
        self.order(Command.RELEASE, "s1")
        self.read("s1-key.hook", False)
        self.read("s1-flag.rack", True)
        self.read("s1-switch.hasp", False)
        self.wait(40)
        self.order(Command.ASK, "s2")
        self.read("s3-switch.normal", False)
        self.read("s3-switch.normal", True)
        self.read("s4-switch.reverse", None)
        self.wait(50)
        self.read("s5-key.hook", False)
        self.read("s5-switch.hasp", False)
        self.read("s5-switch.normal", False)
        self.read("s5-switch.reverse", True)
        self.read("s5-switch.detector", True)
        self.wait(20)
        self.read("s6-switch.hasp", False)
        self.read("s6-switch.normal", False)
        self.read("s6-switch.hasp", True)

    def three_badges(self, spur: str) -> None:
        """Violations, a fault and a running brake test on one row."""
        self.order(Command.ASK, spur)
        with self._lock:
            self.filler.order(self.at_s, Command.START_BRAKE_TEST, spur, cars=12)
            self._pass(0.1)
        self.read(f"{spur}-switch.normal", False)
        self.read(f"{spur}-switch.normal", True)
        self.read(f"{spur}-flag.rack", None)

    def close(self) -> None:
        """Stop beating and let go of the logbook."""
        self._stop.set()
        self._thread.join()
        self.filler.close()
        self.engine.dispose()

    def _pass(self, seconds: float) -> None:
        self.at_s += seconds
        self.filler.wait(self.at_s)

    def _run(self) -> None:
        while not self._stop.wait(0.1):
            with self._lock:
                self._pass(0.1)
                self.filler.answer(self.at_s)
                self.filler.beat()


def main() -> None:
    """A busy evening that stays for a while."""
    spurs = int(sys.argv[2]) if len(sys.argv) > 2 else len(NAMES)
    evening = Evening(Path(sys.argv[1]), spurs)
    evening.here(0)
    evening.busy()
    time.sleep(float(sys.argv[3]) if len(sys.argv) > 3 else 3600.0)
    evening.close()


if __name__ == "__main__":
    main()

"""What broker, database and board carry: simulated boxes that log at a given pace.

Each box is a real courier over a real logbook; what writes the logbook is not an engine but a
thread that commits entries at an even pace, so that the load is the same whatever the size. An
entry's delay is from its commit at the box to its fold into the board's view.
"""

from __future__ import annotations

import multiprocessing
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from dataclasses import dataclass
from multiprocessing.synchronize import Event
from pathlib import Path

from sqlalchemy import insert

from club.machines import password_of
from firmware_py.club.courier import LOOK_EVERY_S, Courier
from firmware_py.club.credentials import Broker
from firmware_py.club.link import Link
from firmware_py.club.topics import everything_told
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.tables import ENTRY, PULSE, SESSION
from firmware_py.logbook.writing import wall_now_us
from firmware_py.service.trial.mosquitto import Mosquitto
from firmware_py.service.trial.postgresql import PostgreSQL
from web.club.follow import ClubFollower
from web.club.reading import ClubReader
from web.live.hub import Hub

SWITCHES = 1_024
TICK_S = 0.1
"""An event of a real engine is a commit, with some three entries."""
_SWITCH = """
[[switch]]
id = "s{0}-switch"
lock = "padlock"
contacts = {{ hasp = "auto", normal = "auto", reverse = "auto", detector = "auto" }}
lamps = {{ green = "auto", red = "auto" }}
[[spur]]
id = "s{0}"
switch = "s{0}-switch"
foreman = "host"
contacts = {{ detector = "auto" }}
"""


@dataclass(frozen=True, slots=True)
class Measured:
    """Delays in seconds, and CPU seconds for each thousand entries, by process."""

    nodes: int
    rate: float
    gathered: int
    median_s: float
    p99_s: float
    cpu: dict[str, float]

    @property
    def whole(self) -> float:
        """CPU seconds for a thousand entries: broker, gatherer, database and board."""
        return sum(self.cpu.values())

    def __str__(self) -> str:
        parts = ", ".join(f"{name} {one * 1e3:.0f}" for name, one in self.cpu.items())
        return (
            f"{self.nodes} boxes, {self.gathered} entries, {self.rate:.0f}/s: median "
            f"{self.median_s * 1e3:.0f} ms, 99th percentile {self.p99_s * 1e3:.0f} ms; CPU "
            f"microseconds for an entry: {parts}; in all {self.whole * 1e3:.0f}"
        )


def measure(nodes: int, rate: float, seconds: float) -> Measured:
    """Run ``nodes`` boxes that log ``rate`` entries a second together."""
    memory = Path("/dev/shm")
    folder = Path(
        tempfile.mkdtemp(
            prefix="spurlock-scale-", dir=memory if os.access(memory, os.W_OK) else None
        )
    )
    folder.chmod(0o755)
    names = [f"box-{number}" for number in range(1, nodes + 1)]
    broker = Mosquitto(folder / "broker", {name: password_of(name) for name in (*names, "board")})
    database = PostgreSQL(folder / "database")
    broker.start()
    database.start()
    gatherer = None
    go, stop = multiprocessing.Event(), multiprocessing.Event()
    halves = [names[at::2] for at in range(2)]
    boxes = [
        multiprocessing.Process(
            target=_boxes,
            args=(folder, half, broker.port, rate * len(half) / nodes, nodes, go, stop),
        )
        for half in halves
    ]
    try:
        gatherer = _gatherer(folder, broker.port, database.url)
        for process in boxes:
            process.start()
        return _watch(nodes, rate, seconds, (broker, database, gatherer), (go, stop))
    finally:
        stop.set()
        go.set()
        for process in boxes:
            process.join(30)
            process.kill()
        if gatherer is not None:
            gatherer.terminate()
            gatherer.wait()
        broker.stop()
        database.stop()


def _gatherer(folder: Path, port: int, url: str) -> subprocess.Popen[bytes]:
    board = folder / "board.toml"
    board.write_text(
        f'[board]\nname = "board"\ntitle = "Scale"\nbroker = "127.0.0.1:{port}"\n'
        f'credentials = "board.credentials"\ntls = false\nlogbook = "{url}"\n'
    )
    secret = folder / "board.credentials"
    secret.touch(mode=0o600)
    secret.write_text(f'password = "{password_of("board")}"\n')
    command = [sys.executable, "-m", "firmware_py.service.gathering_process"]
    return subprocess.Popen([*command, "--board", str(board)])


def _watch(
    nodes: int,
    rate: float,
    seconds: float,
    programs: tuple[Mosquitto, PostgreSQL, subprocess.Popen[bytes]],
    tell: tuple[Event, Event],
) -> Measured:
    broker, database, gatherer = programs
    go, stop = tell
    engine = open_engine(database.url)
    follower = ClubFollower(ClubReader(engine), Hub(4))
    delays: list[float] = []
    fold = follower._boxes._fold

    def folded(box, entry):  # type: ignore[no-untyped-def]  # noqa: ANN001, ANN202
        delays.append((wall_now_us() - entry.wall_us) / 1e6)
        return fold(box, entry)

    follower._boxes._fold = folded  # type: ignore[method-assign]
    end_s = time.monotonic() + 240
    while len(follower._boxes.live) < nodes:
        follower.look()
        assert time.monotonic() < end_s, "they never came to guard"
        time.sleep(0.05)
    pids = {"broker": [broker.program.pid], "gatherer": [gatherer.pid]}
    pids["database"] = [database.program.pid, *_children(database.program.pid)]
    before = {name: sum(map(_cpu_s, every)) for name, every in pids.items()}
    own_s = _own_cpu_s()
    delays.clear()
    go.set()
    end_s = time.monotonic() + seconds
    while time.monotonic() < end_s:
        follower.look()
        time.sleep(0.05)
    stop.set()
    end_s = time.monotonic() + 15
    while time.monotonic() < end_s:
        seen = len(delays)
        follower.look()
        time.sleep(0.25)
        if len(delays) == seen:
            break
    spent = {name: sum(map(_cpu_s, every)) - before[name] for name, every in pids.items()}
    spent["board"] = _own_cpu_s() - own_s
    follower.close()
    engine.dispose()
    ordered = sorted(delays)
    thousands = len(ordered) / 1_000
    return Measured(
        nodes,
        len(ordered) / seconds,
        len(ordered),
        statistics.median(ordered),
        ordered[int(len(ordered) * 0.99)],
        {name: one / thousands for name, one in spent.items()},
    )


def _boxes(
    folder: Path, names: list[str], port: int, rate: float, nodes: int, go: Event, stop: Event
) -> None:
    """Half of the boxes: couriers in threads of one process, and one thread that logs for all."""
    sys.setswitchinterval(0.001)
    engines = {}
    for name in names:
        path = folder / f"{name}.sqlite"
        engines[name] = open_engine(str(path))
        layout = '[layout]\nname = "Scale"\n' + "".join(
            _SWITCH.format(number) for number in range(SWITCHES // nodes)
        )
        with engines[name].begin() as connection:
            about = {"layout_name": name, "layout_path": name, "layout_toml": layout}
            more = {"simulated": True, "began_wall_us": wall_now_us(), "outset": "{}"}
            connection.execute(insert(SESSION).values(about | more | {"opened": True}))
            pulse = {"id": 1, "beat": 1, "state": "guarding", "session_id": 1}
            connection.execute(insert(PULSE).values(pulse))
    threads = [
        threading.Thread(target=_carry, args=(name, str(folder / f"{name}.sqlite"), port, stop))
        for name in names
    ]
    for thread in threads:
        thread.start()
    _log(engines, rate, nodes, go, stop)
    for thread in threads:
        thread.join()


def _carry(name: str, path: str, port: int, stop: Event) -> None:
    engine = open_engine(path)
    broker = Broker("127.0.0.1", port, name, password_of(name), tls=False)
    link = Link(broker, [everything_told(name)])
    courier = Courier(name, engine, link, wall_us=wall_now_us)
    link.start()
    while not stop.is_set():
        link.news.wait(LOOK_EVERY_S)
        link.news.clear()
        courier.turn()
    courier.turn()
    link.sent_all(5.0)
    link.stop()
    courier.close()


def _log(engines: dict[str, object], rate: float, nodes: int, go: Event, stop: Event) -> None:
    began_s = beat_s = time.monotonic()
    owed, number = 0.0, 0
    each = list(engines.items())
    at = 0
    while not stop.is_set():
        time.sleep(TICK_S)
        now_s = time.monotonic()
        if now_s - beat_s > 2.0:
            beat_s = now_s
            for _, engine in each:
                with engine.begin() as connection:  # type: ignore[attr-defined]
                    connection.execute(PULSE.update().values(beat=PULSE.c.beat + 1))
        if not go.is_set():
            began_s = now_s
            continue
        owed = rate * (now_s - began_s) - number
        share = max(1, min(200, round(owed / len(each))))
        for _ in range(len(each)):
            if owed < share:
                break
            _, engine = each[at % len(each)]
            at += 1
            with engine.begin() as connection:  # type: ignore[attr-defined]
                rows = [_row(number + k, SWITCHES // nodes) for k in range(share)]
                connection.execute(insert(ENTRY), rows)
            number += share
            owed -= share


def _row(number: int, switches: int) -> dict[str, object]:
    switch = f"s{number % switches}-switch"
    stage = ("secured", "unlocked")[number % 2]
    t_us = number * 100
    line = f'{{"t": {t_us / 1e6}, "what": "stage", "switch": "{switch}", "stage": "{stage}"}}'
    about = {"session_id": 1, "t_us": t_us, "wall_us": wall_now_us(), "what": "stage"}
    return about | {"at": switch, "spur": None, "line": line}


def _children(pid: int) -> list[int]:
    found = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    return [int(one) for one in found]


def _cpu_s(pid: int) -> float:
    try:
        fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    except OSError:
        return 0.0
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def _own_cpu_s() -> float:
    used = resource.getrusage(resource.RUSAGE_SELF)
    return used.ru_utime + used.ru_stime

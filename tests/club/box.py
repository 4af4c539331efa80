"""A box of a club: a plant on simulated pins and its courier, in threads of this process."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from pathlib import Path

from club.machines import password_of
from firmware_py.club.courier import LOOK_EVERY_S, Courier
from firmware_py.club.credentials import Broker
from firmware_py.club.link import Link, Will
from firmware_py.club.messages import Health, encode
from firmware_py.club.topics import Said, everything_told, said
from firmware_py.engine.assembly import Plant, Settings
from firmware_py.logbook.incarnation import incarnation_of
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.writing import wall_now_us
from firmware_py.service.trial.mosquitto import Mosquitto

GENEROUS_S = 60.0


def until(what: Callable[[], object], why: str = "it never came to pass") -> None:
    """Wait until something is so."""
    end_s = time.monotonic() + GENEROUS_S
    while not what():
        assert time.monotonic() < end_s, why
        time.sleep(0.02)


LAYOUT = """
[layout]
name = "{title}"
[times]
settle = 0.001
clear_after = 0.01
[[switch]]
id = "mill-switch"
lock = "padlock"
key = "mill-key"
contacts = {{ hasp = "auto", normal = "auto", reverse = "auto", detector = "auto" }}
lamps = {{ green = "auto", red = "auto", white = "auto" }}
[[spur]]
id = "mill"
name = "Mill"
switch = "mill-switch"
foreman = "host"
contacts = {{ detector = "auto" }}
[[flag]]
id = "mill-flag"
spur = "mill"
contacts = {{ rack = "auto" }}
[[key]]
id = "mill-key"
contacts = {{ hook = "auto" }}
[node]
name = "{node}"
broker = "{host}:{port}"
credentials = "{node}.credentials"
tls = false
"""


def write_layout(folder: Path, node: str, host: str, port: int) -> Path:
    """The layout of a box, with its credentials beside it."""
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"{node}.toml"
    text = LAYOUT.format(title=f"{node} side", node=node, host=host, port=port)
    path.write_text(text)
    secret = folder / f"{node}.credentials"
    secret.touch(mode=0o600)
    secret.write_text(f'password = "{password_of(node)}"\n')
    return path


class Box:
    """Its engine and its courier can be stopped and started each by itself."""

    def __init__(self, folder: Path, node: str, broker: Mosquitto) -> None:
        self.node = node
        self.layout = write_layout(folder, node, broker.host, broker.port)
        self.logbook = str(folder / f"{node}.sqlite")
        self.broker = broker
        self._plant: Plant | None = None
        self._engine_thread: threading.Thread | None = None
        self._courier: tuple[threading.Event, threading.Thread] | None = None
        self.engine = open_engine(self.logbook)

    @property
    def plant(self) -> Plant:
        assert self._plant is not None
        return self._plant

    def start(self) -> None:
        self.start_engine()
        self.start_courier()

    def start_engine(self) -> None:
        self._plant = Plant(Settings(self.layout, self.logbook, simulated=True, seed=5))
        self._engine_thread = threading.Thread(target=self._plant.run, daemon=True)
        self._engine_thread.start()
        assert self._plant.began.wait(GENEROUS_S)

    def stop_engine(self) -> None:
        if self._plant is not None and self._engine_thread is not None:
            self._plant.stop()
            self._engine_thread.join(GENEROUS_S)
            self._plant = None

    def start_courier(self) -> None:
        stop = threading.Event()
        thread = threading.Thread(target=self._carry, args=(stop,), daemon=True)
        self._courier = stop, thread
        thread.start()

    def stop_courier(self) -> None:
        if self._courier is not None:
            stop, thread = self._courier
            stop.set()
            thread.join(GENEROUS_S)
            self._courier = None

    def close(self) -> None:
        self.stop_courier()
        self.stop_engine()
        self.engine.dispose()

    def _carry(self, stop: threading.Event) -> None:
        engine = open_engine(self.logbook)
        will = Health(here=False, incarnation=incarnation_of(engine))
        broker = Broker(
            self.broker.host, self.broker.port, self.node, password_of(self.node), tls=False
        )
        link = Link(
            broker,
            [everything_told(self.node)],
            Will(said(self.node, Said.HEALTH), encode(will)),
        )
        courier = Courier(self.node, engine, link, wall_us=wall_now_us)
        link.start()
        while not stop.is_set():
            link.news.wait(LOOK_EVERY_S)
            link.news.clear()
            courier.turn()
        courier.farewell()
        link.stop()
        courier.close()
        engine.dispose()

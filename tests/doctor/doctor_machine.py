"""A machine of our own: a root folder with the few files that the doctor looks at."""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path

from firmware_py.health.record import ApplianceHealth, EngineHealth, Part, path_of, write
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.writing import Keeper
from firmware_py.service.doctor.examining import examine
from firmware_py.service.doctor.findings import Case, Finding

WALL_US = 1_800_000_000_000_000
"""The year 2027."""
STEADY_US = 5_000_000_000
BOOT = "6f1d"
LAYOUT = """
[layout]
name = "Gravel"

[[switch]]
id = "pit-switch"
contacts = { hasp = 4, normal = 6, reverse = 13 }
lamps = { green = 20, red = 21 }
bolt = 12
"""


class Machine:
    """A Pi that is well, until a test has it otherwise. ``tells`` is what its tools print."""

    def __init__(self, folder: Path) -> None:
        self.root = folder / "root"
        self.logbook = folder / "gravel.sqlite"
        self.wall_us = WALL_US
        self.steady_us = STEADY_US
        self.tells: dict[str, str] = {}
        for place in ("dev/shm", f"proc/{os.getpid()}"):
            (self.root / place).mkdir(parents=True)
        self.put("proc/sys/kernel/random/boot_id", f"{BOOT}\n")
        self.put("sys/class/thermal/thermal_zone0/temp", "52100\n")
        self.put("sys/devices/platform/soc/soc:firmware/get_throttled", "0\n")
        self.put("run/systemd/timesync/synchronized", "")
        self.put("proc/device-tree/model", "Raspberry Pi 4 Model B Rev 1.4\0")
        self.put("boot/firmware/config.txt", "dtparam=strict_gpiod\n")
        self.put("sys/module/pinctrl_bcm2835/parameters/persist_gpio_outputs", "N\n")
        self.put("etc/systemd/system.conf.d/spurlock.conf", "[Manager]\nRuntimeWatchdogSec=14s\n")
        self.put("dev/watchdog0", "")
        self.put("proc/self/mounts", "/dev/mmcblk0p2 / ext4 rw,noatime 0 0\n")
        self.layout = folder / "gravel.toml"
        self.layout.write_text(LAYOUT)

    def put(self, place: str, text: str) -> Path:
        """Write one of the machine's files."""
        path = self.root / place
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, "ascii")
        return path

    def remove(self, place: str) -> None:
        """Take one of the machine's files away."""
        (self.root / place).unlink()

    def keep_logbook(self) -> None:
        """Make a logbook with a session and a backup."""
        engine = open_engine(str(self.logbook))
        keeper = Keeper(engine, wall_us=lambda: self.wall_us - 60_000_000)
        keeper.begin_session(
            layout_name="Gravel",
            layout_path="gravel.toml",
            layout_toml="",
            simulated=True,
            outset={},
        )
        keeper.remark("The session began.", 0)
        assert keeper.close()
        engine.dispose()
        self.back_up(3_600)

    def back_up(self, ago_s: int) -> None:
        """Have a backup of so long ago."""
        made = self.logbook.parent / "backups" / "gravel-2027-01-14.sqlite"
        made.parent.mkdir(exist_ok=True)
        made.write_bytes(b"")
        at_s = self.wall_us // 1_000_000 - ago_s
        os.utime(made, (at_s, at_s))

    def engine_says(self, **more: object) -> None:
        """Leave the engine's word, of a second ago if not said otherwise."""
        words: dict[str, object] = {
            "pid": os.getpid(),
            "boot": BOOT,
            "at_us": self.steady_us - 1_000_000,
            "state": "guarding",
            "layout": "Gravel",
            "simulated": False,
            "parts": tuple(Part(name, True) for name in ("pins", "queue", "core", "logbook")),
        }
        record = EngineHealth(**(words | more))  # type: ignore[arg-type] # A test's own words.
        assert write(path_of(str(self.logbook), EngineHealth, self.root), record)

    @contextmanager
    def screen(self, status: int, body: str) -> Iterator[None]:
        """Have a screen answer so, and the appliance's word of where it is."""

        class Answer(BaseHTTPRequestHandler):
            def do_GET(self) -> None:
                self.send_response(status if self.path == "/health" else 404)
                self.end_headers()
                self.wfile.write(body.encode())

            def log_message(self, *_: object) -> None:
                """Say nothing."""

        server = HTTPServer(("127.0.0.1", 0), Answer)
        threading.Thread(target=server.serve_forever, daemon=True).start()
        record = ApplianceHealth(os.getpid(), BOOT, f"http://127.0.0.1:{server.server_port}")
        assert write(path_of(str(self.logbook), ApplianceHealth, self.root), record)
        try:
            yield
        finally:
            server.shutdown()
            server.server_close()

    def examine(self) -> dict[str, Finding]:
        """What the doctor finds, by part."""
        case = Case(
            str(self.logbook), self.layout, self.root, lambda: self.wall_us, lambda: self.steady_us
        )
        findings = examine(case, lambda command: self.tells.get(" ".join(command)))
        return {finding.part: finding for finding in findings}

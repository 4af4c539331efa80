"""From a contact to its lamp on real lines: the whole service, and two lines on stock gpiozero.

The service is engine and screen as ``spurlock run`` starts them, with watchers at the board's
stream, its settle times 0; the other is a script whose ``button.when_pressed = led.on`` goes
through gpiozero's own lgpio factory. Both run throughout; in turn one is measured and the other
one stopped. Time runs from before the line is pulled until the kernel says that the lamp's line is
high. Nothing is asserted. The machine has one processor and counts its instructions, so a run
repeats on a busy host. Whoever looks at the lamp's line shares that processor with who lights it:
it looks every tenth of a millisecond, before all others, so that what either of them still does
once the lamp is lit (the service writes its log) is not counted.
"""

from __future__ import annotations

import contextlib
import os
import random
import signal
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from tests.kernel.inside.sim import DOWN, HEADER_LABEL, UP, SimChip
from tests.service.processes import ENGINE, SCREEN, SPURLOCK, children_of, free_port

WATCHERS = 20
SWITCHES = 12
"""Enough that none is moved so often that it is taken to chatter."""
ROUNDS = 2
MOVES = 180
LOOK_EVERY_S = 0.0001
FIRST_OF_ALL = 50
PAUSE_S = (0.06, 0.14)
IDLE_S = 12.0
LAMP_WITHIN_S = 20.0
START_WITHIN_S = 240.0
BUTTON, LED = 5, 6
SCRIPT = f"""
from signal import pause
from gpiozero import LED, Button
button, led = Button({BUTTON}), LED({LED})
button.when_pressed = led.on
button.when_released = led.off
pause()
"""
REVISION = "Revision\t: a020d3\n"
"""Of a Pi 3B+: stock gpiozero wants to know which Pi it runs on."""
SWITCH = """
[[switch]]
id = "s{n}"
contacts = {{ hasp = "box:{hasp}", normal = "box:{normal}", reverse = "box:{reverse}" }}
lamps = {{ green = "box:{green}", red = "box:{red}" }}
"""


@dataclass(frozen=True, slots=True)
class Lines:
    """Where one contact is, and the lamp that lights when it is pulled ``pulled``."""

    chip: SimChip
    contact: int
    lamp: int
    pulled: bytes
    back: bytes

    def measure(self) -> float:
        """Move the contact; the seconds until its lamp was lit. Then all is put back."""
        with self.chip.value_file(self.lamp).open("rb", buffering=0) as value:
            file = value.fileno()
            began = time.perf_counter()
            self.chip.pull(self.contact, self.pulled)
            lit = _awaited(file, b"1", began)
            self.chip.pull(self.contact, self.back)
            _awaited(file, b"0", time.perf_counter())
        return lit


def _awaited(file: int, level: bytes, began: float) -> float:
    while os.pread(file, 1, 0) != level:
        time.sleep(LOOK_EVERY_S)
        if time.perf_counter() - began > LAMP_WITHIN_S:
            raise RuntimeError("a lamp did not follow its contact")
    return time.perf_counter() - began


@dataclass(slots=True)
class Found:
    """Seconds from contact to lamp, of both; and the cores that each takes while idle."""

    ours: list[float] = field(default_factory=list)
    stock: list[float] = field(default_factory=list)
    idle: dict[str, float] = field(default_factory=dict)


def report() -> None:
    """Measure and print."""
    found = measure()
    ours, stock = found.ours, found.stock
    print(f"contact to lamp, {len(ours)} moves each, {WATCHERS} watchers at the board:")
    for name, times in (("the service", ours), ("two lines on gpiozero and lgpio", stock)):
        print(
            f"  {name}: median {statistics.median(times) * 1e3:.2f} ms, "
            f"p90 {_share(times, 0.9) * 1e3:.2f}, p99 {_share(times, 0.99) * 1e3:.2f}, "
            f"most {max(times) * 1e3:.2f}"
        )
    print(
        f"  ratio: median {statistics.median(ours) / statistics.median(stock):.2f}, "
        f"p99 {_share(ours, 0.99) / _share(stock, 0.99):.2f}"
    )
    print("idle, of one core: " + ", ".join(f"{n} {share:.2%}" for n, share in found.idle.items()))


def measure() -> Found:
    """All of it, in one run."""
    policy = os.sched_getscheduler(0)
    with contextlib.ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        # The first chip: stock gpiozero looks for the header there and nowhere else.
        header = stack.enter_context(SimChip("header", 28, HEADER_LABEL))
        box = stack.enter_context(SimChip("box", 5 * SWITCHES, "box"))
        switches = _switches(box)
        script = stack.enter_context(_script(folder, header))
        service = stack.enter_context(_service(folder, switches))
        found = Found()
        button = Lines(header, BUTTON, LED, DOWN, UP)
        hasps = [Lines(box, 5 * n, 5 * n + 4, UP, DOWN) for n in range(SWITCHES)]
        greens = [5 * n + 3 for n in range(SWITCHES)]
        _wait(lambda: all(map(box.value, greens)), "the service does not guard")
        os.sched_setscheduler(0, os.SCHED_FIFO, os.sched_param(FIRST_OF_ALL))
        for _ in range(ROUNDS):
            with _stopped(script):
                found.ours += _moves(hasps)
            with _stopped(service):
                found.stock += _moves([button])
        os.sched_setscheduler(0, policy, os.sched_param(0))
        found.idle = _idle({"engine": service[1], "screen": service[2], "script": script[0]})
        return found


def _moves(lines: Sequence[Lines]) -> list[float]:
    chance = random.Random(len(lines))
    times = []
    for move in range(MOVES + len(lines)):
        time.sleep(chance.uniform(*PAUSE_S))
        times.append(lines[move % len(lines)].measure())
    return times[len(lines) :]  # The first of each warms up what had been stopped.


@contextlib.contextmanager
def _stopped(pids: Sequence[int]) -> Iterator[None]:
    """Stop processes for a while: the first one first, since it watches over the others."""
    for pid in pids:
        os.kill(pid, signal.SIGSTOP)
    try:
        yield
    finally:
        for pid in reversed(pids):
            os.kill(pid, signal.SIGCONT)
        time.sleep(1.0)


def _switches(box: SimChip) -> str:
    text = "[times]\nsettle = 0.0\nclear_after = 0.0\n"
    for n in range(SWITCHES):
        wires = ("hasp", "normal", "reverse", "green", "red")
        text += SWITCH.format(n=n, **{wire: 5 * n + place for place, wire in enumerate(wires)})
        for place, closed in enumerate((True, True, False)):
            box.hold(5 * n + place, closed)
    return text


@contextlib.contextmanager
def _script(folder: Path, header: SimChip) -> Iterator[list[int]]:
    cpuinfo, script = folder / "cpuinfo", folder / "script.py"
    cpuinfo.write_text(REVISION)
    script.write_text(SCRIPT)
    subprocess.run(["mount", "--bind", str(cpuinfo), "/proc/cpuinfo"], check=True)
    process = subprocess.Popen(
        [sys.executable, str(script)],
        cwd=folder,
        env=os.environ | {"GPIOZERO_PIN_FACTORY": "lgpio", "LG_WD": str(folder)},
    )
    try:
        _wait(lambda: header.in_use(LED), "the script did not take its lines")
        time.sleep(1.0)
        yield [process.pid]
    finally:
        process.kill()
        process.wait()
        subprocess.run(["umount", "/proc/cpuinfo"], check=True)


@contextlib.contextmanager
def _service(folder: Path, switches: str) -> Iterator[list[int]]:
    """The service with its watchers; its processes: supervisor, engine, screen."""
    layout, port = folder / "switches.toml", free_port()
    layout.write_text(switches)
    line = [*SPURLOCK, "run", str(layout), "--minutes", "60", "--port", str(port)]
    process = subprocess.Popen(line, stdout=subprocess.DEVNULL)
    crowd = subprocess.Popen(
        [sys.executable, "-m", "tests.kernel.inside.crowd", str(port), str(WATCHERS)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
    )
    try:
        assert crowd.stdout is not None
        if crowd.stdout.readline() != b"ready\n":
            raise RuntimeError("the watchers were not served")
        children = [*children_of(process.pid)]
        of = {m: pid for pid, words in children for m in (ENGINE, SCREEN) if m in words}
        yield [process.pid, of[ENGINE], of[SCREEN]]
    finally:
        process.terminate()
        process.wait()
        crowd.kill()
        crowd.wait()


def _idle(pids: dict[str, int]) -> dict[str, float]:
    time.sleep(2.0)
    before = {name: _cpu_s(pid) for name, pid in pids.items()}
    time.sleep(IDLE_S)
    return {name: (_cpu_s(pid) - before[name]) / IDLE_S for name, pid in pids.items()}


def _cpu_s(pid: int) -> float:
    """Processor time of another process, to the nanosecond (clock_getcpuclockid(3))."""
    return time.clock_gettime(~pid << 3 | 2)


def _wait(true: Callable[[], object], why: str) -> None:
    end_s = time.monotonic() + START_WITHIN_S
    while not true():
        if time.monotonic() > end_s:
            raise RuntimeError(why)
        time.sleep(0.05)


def _share(times: Sequence[float], share: float) -> float:
    return sorted(times)[min(len(times) - 1, int(len(times) * share))]

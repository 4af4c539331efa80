"""The faults, each of them caused for real: what begins it, and what cures it."""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from random import Random

from club.fleet import Fleet, Node, Process
from firmware_py.service.trial.programs import TrialError

FIVE_MINUTES_S = 300
FILLER = "filler"


@dataclass(frozen=True, slots=True)
class Fault:
    """``lasts_s`` is how long it is left to stand."""

    name: str
    begin: Callable[[], None]
    cure: Callable[[], None]
    lasts_s: float


def kinds(fleet: Fleet) -> list[str]:
    """The faults that can be caused here."""
    found = ["courier-killed", "courier-hung", "gatherer-killed", "engine-killed", "clock-off"]
    found += ["broker-restarted", "broker-forgot"]
    if fleet.nodes[0].cable is not None:
        found.append("link-down")
    if fleet.postgresql is not None:
        found += ["database-restarted", "database-crashed"]
    if fleet.disk is not None:
        found.append("disk-full")
    return found


def fault(fleet: Fleet, kind: str, random: Random, lasts_s: float) -> Fault:
    """One fault, at a box or board that is drawn."""
    node = random.choice(fleet.nodes)
    board = random.choice(fleet.boards)
    match kind:
        case "courier-killed":
            begin, cure = _killed(node.courier)
        case "courier-hung":
            begin = lambda: node.courier.send(signal.SIGSTOP)  # noqa: E731
            cure = lambda: node.courier.send(signal.SIGCONT)  # noqa: E731
        case "gatherer-killed":
            begin, cure = _killed(board.gatherer)
        case "engine-killed":
            begin, cure = _killed(node.engine)
        case "link-down":
            begin, cure = _cable(node, "down"), _cable(node, "up")
        case "broker-restarted" | "broker-forgot":
            begin, cure = _broker(fleet, remembers=kind == "broker-restarted", random=random)
        case "database-restarted" | "database-crashed":
            begin, cure = _database(fleet, crash=kind == "database-crashed")
        case "disk-full":
            begin, cure = _disk(fleet)
        case "clock-off":
            ahead = random.choice((FIVE_MINUTES_S, -FIVE_MINUTES_S))
            begin = lambda: _put_clock(node, ahead)  # noqa: E731
            cure = lambda: _put_clock(node, 0)  # noqa: E731
        case _:
            raise ValueError(kind)
    where = {"g": board.name, "d": "", "b": ""}.get(kind[0], node.name)
    return Fault(f"{kind} {where} {lasts_s:.1f} s".replace("  ", " "), begin, cure, lasts_s)


def _killed(process: Process) -> tuple[Callable[[], None], Callable[[], None]]:
    return (lambda: process.stop(signal.SIGKILL)), process.start


def _cable(node: Node, state: str) -> Callable[[], None]:
    assert node.cable is not None, "asked only where there is one"
    command = ["ip", "link", "set", node.cable, state]
    return lambda: subprocess.run(command, check=True) and None


def _broker(
    fleet: Fleet, *, remembers: bool, random: Random
) -> tuple[Callable[[], None], Callable[[], None]]:
    number = random.choice((signal.SIGTERM, signal.SIGKILL))

    def cure() -> None:
        fleet.broker.remember(remembers)
        fleet.broker.stop()
        fleet.broker.start()

    return (lambda: fleet.broker.stop(number)), cure


def _database(fleet: Fleet, *, crash: bool) -> tuple[Callable[[], None], Callable[[], None]]:
    database = fleet.postgresql
    assert database is not None, "asked only where there is one"
    number = signal.SIGQUIT if crash else signal.SIGINT

    def cure() -> None:
        database.stop()
        try:
            database.start()
        except TrialError:
            if fleet.disk is None or not (fleet.disk / FILLER).exists():
                raise  # Else it is the full disk that keeps it, and its cure that starts it.

    return (lambda: database.stop(number)), cure


def _disk(fleet: Fleet) -> tuple[Callable[[], None], Callable[[], None]]:
    assert fleet.disk is not None, "asked only where it can be filled"
    filler: Path = fleet.disk / FILLER

    def begin() -> None:
        with contextlib.suppress(OSError), filler.open("wb", buffering=0) as stream:
            while True:
                stream.write(b"\0" * 65_536)
        with contextlib.suppress(OSError), filler.open("ab", buffering=0) as stream:
            while True:
                stream.write(b"\0" * 512)

    def cure() -> None:
        filler.unlink(missing_ok=True)
        database = fleet.postgresql
        if database is not None and not database.program.runs:
            with contextlib.suppress(TrialError):
                database.start()  # As the system's service manager does.

    return begin, cure


def _put_clock(node: Node, ahead_s: int) -> None:
    new = node.clock.with_suffix(".new")
    new.write_text(f"{ahead_s}\n")
    os.replace(new, node.clock)

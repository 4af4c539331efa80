"""systemd's notification protocol, over real sockets (sd_notify(3), sd_watchdog_enabled(3))."""

from __future__ import annotations

import os
import socket
from collections.abc import Iterator
from pathlib import Path

import pytest

from firmware_py.health.notifying import Notifier


@pytest.fixture(params=["path", "abstract"])
def heard(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[tuple[str, socket.socket]]:
    """The name of a socket as systemd gives it, and the socket."""
    name = str(tmp_path / "notify") if request.param == "path" else f"@spurlock-{os.getpid()}"
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listening:
        listening.bind(name.replace("@", "\0", 1))
        listening.settimeout(20.0)
        yield name, listening


def test_words_come_as_one_datagram(heard: tuple[str, socket.socket]) -> None:
    name, listening = heard
    notifier = Notifier({"NOTIFY_SOCKET": name})
    assert notifier.tell("READY=1", "STATUS=Guarding Gravel\nSiding é")
    assert listening.recv(1_000).decode() == "READY=1\nSTATUS=Guarding Gravel Siding é"
    assert notifier.tell("WATCHDOG=1")
    assert listening.recv(1_000) == b"WATCHDOG=1"


def test_a_manager_that_does_not_listen_holds_nobody_up(heard: tuple[str, socket.socket]) -> None:
    notifier = Notifier({"NOTIFY_SOCKET": heard[0]})
    taken = 0
    while notifier.tell("STATUS=" + "x" * 1_000):
        taken += 1
        assert taken < 100_000
    assert taken > 0


def test_nobody_is_told_without_a_manager(tmp_path: Path) -> None:
    assert not Notifier({}).tell("READY=1")
    assert not Notifier({"NOTIFY_SOCKET": str(tmp_path / "gone")}).tell("READY=1")
    assert not Notifier({"NOTIFY_SOCKET": "/" + "x" * 300}).tell("READY=1")


@pytest.mark.parametrize(
    ("environ", "every_s"),
    [
        ({"WATCHDOG_USEC": "60000000"}, 30.0),
        ({"WATCHDOG_USEC": "60000000", "WATCHDOG_PID": str(os.getpid())}, 30.0),
        ({"WATCHDOG_USEC": "60000000", "WATCHDOG_PID": str(os.getppid())}, 30.0),
        ({"WATCHDOG_USEC": "60000000", "WATCHDOG_PID": "1"}, None),
        ({"WATCHDOG_USEC": "0"}, None),
        ({"WATCHDOG_USEC": "-5"}, None),
        ({"WATCHDOG_USEC": "soon"}, None),
        ({}, None),
    ],
)
def test_the_watchdog_is_fed_at_half_its_time(
    environ: dict[str, str], every_s: float | None
) -> None:
    assert Notifier({"NOTIFY_SOCKET": "@x", **environ}).feed_every_s == every_s
    assert Notifier(environ).feed_every_s is None, "nobody to feed"

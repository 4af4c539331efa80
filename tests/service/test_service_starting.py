"""Command lines of the two processes, and the screen's port."""

from __future__ import annotations

import socket
import sys
from pathlib import Path

import pytest

from firmware_py.service import engine_process
from firmware_py.service.starting import Appliance, free_port
from web import serve

PLAIN = Appliance(Path("basin.toml"), "basin.sqlite", False, "127.0.0.1", 8080)
FULL = Appliance(
    Path("my basin.toml"),
    "sqlite:///my basin.sqlite",
    simulated=True,
    host="::1",
    port=9000,
    crew=True,
    pace=2.5,
    seed=0,
    minutes=90.0,
)


def test_the_engine_understands_what_it_is_started_with() -> None:
    """Through its own parser, so that the two can't drift apart."""
    args = engine_process._parser().parse_args(FULL.engine_command[3:])
    assert vars(args) == {
        "layout": Path("my basin.toml"),
        "logbook": "sqlite:///my basin.sqlite",
        "simulated": True,
        "crew": True,
        "pace": 2.5,
        "seed": 0,
        "minutes": 90.0,
        "opened": True,
    }


def test_what_is_not_wanted_is_not_said() -> None:
    args = engine_process._parser().parse_args(PLAIN.engine_command[3:])
    assert (args.simulated, args.crew, args.seed, args.minutes) == (False, False, None, None)


@pytest.mark.parametrize("appliance", [PLAIN, FULL])
def test_the_screen_understands_what_it_is_started_with(appliance: Appliance) -> None:
    args = serve._parser().parse_args(appliance.screen_command[3:])
    assert (args.logbook, args.host, args.port) == (
        appliance.logbook,
        appliance.host,
        appliance.port,
    )


def test_both_run_on_the_same_python() -> None:
    assert PLAIN.engine_command[0] == PLAIN.screen_command[0] == sys.executable


def test_the_wanted_port_is_taken_if_it_is_free() -> None:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        wanted = probe.getsockname()[1]
    assert free_port("127.0.0.1", wanted) == wanted


def test_another_port_is_taken_if_the_wanted_one_is_not_free() -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        taken = other.getsockname()[1]
        found = free_port("127.0.0.1", taken)
    assert found not in {0, taken}


def test_an_address_that_is_not_this_machines_is_an_error() -> None:
    """192.0.2.1 is set aside for examples (RFC 5737), so that no machine has it."""
    with pytest.raises(OSError, match="address"):
        free_port("192.0.2.1", 0)

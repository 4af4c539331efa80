"""What ``spurlock run`` says of where it listens, and of who can act as the host there."""

from __future__ import annotations

from pathlib import Path

import pytest
from commands_console import LAYOUT, Console

from firmware_py.commands import run
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.screen.pin import set_pin
from firmware_py.service.starting import Appliance


def said(host: str, logbook: Path, port: int = 8080) -> str:
    return "\n".join(run.greeting(host, port, str(logbook)))


@pytest.mark.parametrize("host", ["127.0.0.1", "127.0.0.2", "::1", "localhost", "LocalHost"])
def test_loopback_is_this_machine_alone(tmp_path: Path, host: str) -> None:
    assert "on this machine alone." in said(host, tmp_path / "new.sqlite")
    assert "anyone" not in said(host, tmp_path / "new.sqlite")


@pytest.mark.parametrize(
    ("host", "where"),
    [
        ("0.0.0.0", "0.0.0.0:8080"),
        ("::", "[::]:8080"),
        ("192.0.2.7", "192.0.2.7:8080"),
        ("2001:db8::7", "[2001:db8::7]:8080"),
        ("basin", "basin:8080"),
    ],
)
def test_anywhere_else_it_says_where_and_that_anyone_there_can_watch(
    tmp_path: Path, host: str, where: str
) -> None:
    """The addresses are set aside for examples (RFC 5737, RFC 3849)."""
    assert f"listens at {where}," in said(host, tmp_path / "new.sqlite")
    assert "anyone" in said(host, tmp_path / "new.sqlite")
    assert "can watch." in said(host, tmp_path / "new.sqlite")


def test_every_network_is_said_to_be_every_network(tmp_path: Path) -> None:
    for host in ("0.0.0.0", "::"):
        assert "every network" in said(host, tmp_path / "new.sqlite")


def test_without_a_pin_it_says_what_to_run_and_makes_no_logbook(tmp_path: Path) -> None:
    logbook = tmp_path / "new.sqlite"
    assert f"spurlock pin {logbook}" in said("0.0.0.0", logbook)
    assert not logbook.exists()


def test_a_logbook_without_a_pin_and_one_with_it_are_told_apart(tmp_path: Path) -> None:
    logbook = tmp_path / "kept.sqlite"
    database = open_engine(str(logbook))
    assert "No host PIN is set" in said("0.0.0.0", logbook)
    set_pin(database, "gorse-4171")
    database.dispose()
    assert "A host PIN is set" in said("0.0.0.0", logbook)
    assert "gorse" not in said("0.0.0.0", logbook)


def test_what_is_no_logbook_is_left_for_the_engine_to_speak_of(tmp_path: Path) -> None:
    logbook = tmp_path / "prose.sqlite"
    logbook.write_text("Once upon a time there was a siding." * 40, "utf-8")
    assert "No host PIN is set" in said("0.0.0.0", logbook)


def test_the_command_says_it_before_anything_starts(
    spurlock: Console, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    started: list[Appliance] = []

    def note(appliance: Appliance, _say: object, _meanwhile: object) -> int:
        started.append(appliance)
        return 0

    monkeypatch.setattr(run, "serve", note)
    logbook = tmp_path / "new.sqlite"
    ran = spurlock(
        "run", LAYOUT, "--simulated", "--logbook", logbook, "--host", "0.0.0.0", "--port", "0"
    )
    assert ran.status == 0
    [appliance] = started
    where, pin = ran.out.splitlines()
    assert f"0.0.0.0:{appliance.port}," in where
    assert "No host PIN is set" in pin

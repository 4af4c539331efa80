"""The doctor, on a machine whose every file is the test's own."""

from __future__ import annotations

import os
import sqlite3
import subprocess
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from doctor_machine import BOOT, Machine

from firmware_py.commands.doctor import report
from firmware_py.health.record import ApplianceHealth, EngineHealth, Part, path_of, read, write
from firmware_py.service.doctor.examining import NEEDS_CARE, UNREADABLE, WELL, lines, status
from firmware_py.service.doctor.findings import State

PARTS = ["pins", "engine", "screen", "logbook", "disk", "backups", "heat", "supply", "clock"]
PARTS += ["boot", "pulls", "i2c", "watchdog", "overlay"]


@pytest.fixture
def machine(tmp_path: Path) -> Iterator[Machine]:
    machine = Machine(tmp_path)
    machine.keep_logbook()
    machine.engine_says()
    with machine.screen(200, '{"ok": true, "streams": 2}'):
        yield machine


def test_all_is_well(machine: Machine) -> None:
    found = machine.examine()
    assert list(found) == PARTS
    assert {part: finding.state for part, finding in found.items()} == dict.fromkeys(
        PARTS, State.WELL
    )
    assert status(list(found.values())) == WELL
    said = lines(list(found.values()))
    assert len(said) == len(PARTS)
    assert "2 pages are open" in said[2]


def needs_care(machine: Machine, part: str, *words: str) -> None:
    """See that one part alone needs care, with these words, and that there is something to do."""
    found = machine.examine()
    caring = [name for name, finding in found.items() if finding.state is State.CARE]
    assert caring == [part]
    text = " ".join(lines([found[part]]))
    assert all(word in text for word in words), text
    assert found[part].do
    assert status(list(found.values())) == NEEDS_CARE


def test_wires_that_fail(machine: Machine) -> None:
    machine.engine_says(troubles=("box: No such device",))
    needs_care(machine, "pins", "box: No such device", "cable")


def test_an_engine_that_stands_still(machine: Machine) -> None:
    machine.engine_says(parts=(Part("queue", False, "nothing comes out"),))
    needs_care(machine, "engine", "queue: nothing comes out", "treat every switch as red")


def test_a_logbook_that_can_not_be_written(machine: Machine) -> None:
    machine.engine_says(parts=(Part("logbook", True, "its disk is full"),), queued=12)
    needs_care(machine, "engine", "its disk is full", "12 records wait", "guarding goes on")


def test_readings_that_came_too_fast(machine: Machine) -> None:
    machine.engine_says(drops=7)
    needs_care(machine, "engine", "7 readings came too fast")


def test_an_engine_that_hangs(machine: Machine) -> None:
    machine.engine_says(at_us=machine.steady_us - 90_000_000)
    found = machine.examine()
    assert f"process {os.getpid()}" in found["engine"].do
    assert "90 s" in found["engine"].says


def test_an_engine_that_is_gone(machine: Machine) -> None:
    machine.engine_says(at_us=machine.steady_us - 90_000_000, pid=2**22 + 1)
    found = machine.examine()
    assert "it is gone" in found["engine"].says
    assert found["pins"].state is State.UNTOLD


def test_the_words_of_an_earlier_boot_are_not_believed(machine: Machine) -> None:
    machine.engine_says(boot="another")
    found = machine.examine()
    assert found["engine"].says == "no engine runs on this logbook"


def test_a_screen_that_can_not_follow(machine: Machine) -> None:
    with machine.screen(503, '{"ok": false}'):
        needs_care(machine, "screen", "can't follow")


def test_a_screen_that_does_not_answer(machine: Machine) -> None:
    record = ApplianceHealth(os.getpid(), BOOT, "http://127.0.0.1:1")
    write(path_of(str(machine.logbook), ApplianceHealth, machine.root), record)
    needs_care(machine, "screen", "does not answer")


def test_heat(machine: Machine) -> None:
    machine.put("sys/class/thermal/thermal_zone1/temp", "84200")
    needs_care(machine, "heat", "84 °C")


@pytest.mark.parametrize(
    ("bits", "words"),
    [("0x50005", "too low now"), ("50000", "at times"), ("0x2", "slowed down")],
)
def test_a_low_supply(machine: Machine, bits: str, words: str) -> None:
    """Bit 0 is now, bit 16 since the start (from memory of the Pi's documentation)."""
    machine.put("sys/devices/platform/soc/soc:firmware/get_throttled", bits)
    needs_care(machine, "supply", words)


def test_a_low_supply_by_the_machines_own_tool(machine: Machine) -> None:
    machine.remove("sys/devices/platform/soc/soc:firmware/get_throttled")
    machine.tells["vcgencmd get_throttled"] = "throttled=0x50000\n"
    needs_care(machine, "supply", "at times")


def test_a_machine_that_tells_nothing(machine: Machine) -> None:
    machine.remove("sys/devices/platform/soc/soc:firmware/get_throttled")
    machine.remove("sys/class/thermal/thermal_zone0/temp")
    found = machine.examine()
    assert found["supply"].state is found["heat"].state is State.UNTOLD
    assert status(list(found.values())) == WELL


def test_a_clock_that_was_never_set(machine: Machine) -> None:
    machine.back_up(-(10**9))
    machine.wall_us = 3_600_000_000
    needs_care(machine, "clock", "1970-01-01", "was not set")


def test_a_clock_that_lost_its_time(machine: Machine) -> None:
    machine.wall_us -= 30 * 86_400_000_000
    needs_care(machine, "clock", "before the newest line of the log", "29 days")


def test_a_clock_that_no_server_has_set(machine: Machine) -> None:
    machine.remove("run/systemd/timesync/synchronized")
    needs_care(machine, "clock", "no time server")


def test_old_backups_and_none(machine: Machine) -> None:
    machine.back_up(5 * 86_400)
    needs_care(machine, "backups", "5 days old")
    for made in (machine.logbook.parent / "backups").iterdir():
        made.unlink()
    needs_care(machine, "backups", "none yet")


def test_a_damaged_logbook(machine: Machine) -> None:
    with machine.logbook.open("r+b") as file:
        file.seek(8_192)
        file.write(b"\xa5" * 20_000)
    found = machine.examine()
    assert found["logbook"].state is State.CARE
    assert "damaged" in found["logbook"].says
    assert "restore" in found["logbook"].do


def test_files_that_were_set_aside(machine: Machine) -> None:
    (machine.logbook.parent / "gravel-damaged-2027-01-02-030405.sqlite").write_bytes(b"")
    needs_care(machine, "logbook", "gravel-damaged-2027-01-02-030405.sqlite")


def test_a_locked_logbook_is_read_all_the_same(machine: Machine) -> None:
    with closing(sqlite3.connect(machine.logbook, isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        assert machine.examine()["logbook"].state is State.WELL


def test_what_is_no_logbook(machine: Machine) -> None:
    machine.logbook.write_text("[layout]\n" * 1_000)
    found = machine.examine()
    assert found["logbook"].state is State.UNREADABLE
    assert status(list(found.values())) == UNREADABLE
    machine.logbook.unlink()
    assert machine.examine()["logbook"].state is State.UNREADABLE


def test_nothing_is_changed(machine: Machine) -> None:
    before = {path: path.read_bytes() for path in machine.logbook.parent.glob("gravel*")}
    machine.examine()
    after = {path: path.read_bytes() for path in machine.logbook.parent.glob("gravel*")}
    assert {path: after[path] for path in before} == before


@pytest.mark.skipif(os.geteuid() != 0, reason="only root may mount a disk")
def test_a_disk_with_little_room_and_one_that_is_read_only(tmp_path: Path) -> None:
    card = tmp_path / "card"
    card.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=4m", "none", str(card)], check=False
    )
    if mounted.returncode:
        pytest.skip("mounting is not allowed here")
    try:
        machine = Machine(tmp_path)
        machine.logbook = card / "gravel.sqlite"
        machine.keep_logbook()
        machine.engine_says()
        with machine.screen(200, "{}"):
            needs_care(machine, "disk", "free some space")
            subprocess.run(["mount", "-o", "remount,ro", str(card)], check=True)
            needs_care(machine, "disk", "read-only", "remount")
    finally:
        subprocess.run(["umount", "-l", str(card)], check=True)


def test_the_command(machine: Machine, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert report(str(machine.logbook), machine.root) in (WELL, NEEDS_CARE)
    said = capsys.readouterr().out
    assert [line.split()[0] for line in said.splitlines() if line[0] != " "] == PARTS
    broken = tmp_path / "broken.toml"
    broken.write_text("[layout")
    assert report(str(broken), machine.root) == UNREADABLE
    assert "broken.toml" in capsys.readouterr().err
    assert report(str(tmp_path / "absent.sqlite"), machine.root) == UNREADABLE


def test_a_record_is_whole_or_absent(tmp_path: Path) -> None:
    path = tmp_path / "engine.json"
    assert read(path, EngineHealth) is None
    path.write_text('{"pid": 1')
    assert read(path, EngineHealth) is None
    assert not write(tmp_path / "nowhere" / "engine.json", ApplianceHealth(1, "", ""))

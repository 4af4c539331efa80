"""The machine under it all: disk, heat, supply and clock, as far as it tells."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from pathlib import Path

from firmware_py.service.doctor.findings import Case, Finding, care, span, untold, well

LEAST_FREE = 200_000_000
LEAST_SHARE = 0.05
HOTTEST_C = 80.0
"""Where a Pi begins to slow itself down (from memory of its documentation)."""
EARLIEST_YEAR = 2025
"""A clock that says less has not been set since this was written."""
AHEAD_US = 120_000_000

_THROTTLED = "sys/devices/platform/soc/soc:firmware/get_throttled"
_NOW_LOW, _WAS_LOW, _NOW_SLOWED = 1 << 0, 1 << 16, (1 << 1) | (1 << 2) | (1 << 3)

Ask = Callable[[Sequence[str]], str | None]
"""Runs a command and gives what it printed; ``None`` where there is no such command."""


def ask_machine(command: Sequence[str]) -> str | None:
    """Run a command of the system's."""
    try:
        asked = subprocess.run(command, capture_output=True, text=True, timeout=5.0, check=True)
    except (OSError, subprocess.SubprocessError):
        return None
    return asked.stdout


def disk(case: Case) -> Finding:
    """Whether the logbook's disk can be written, and has room."""
    if case.file is None:
        return untold("disk", "a database server keeps this logbook")
    folder = case.file.resolve().parent
    try:
        usage, flags = shutil.disk_usage(folder), os.statvfs(folder).f_flag
    except OSError as error:
        return care("disk", f"{folder}: {error.strerror or error}", "see that the disk is there")
    if flags & os.ST_RDONLY:
        do = "remount it for writing; if it went so by itself, the card may be failing: replace it"
        return care("disk", f"{folder} is read-only", do)
    says = f"{_size(usage.free)} of {_size(usage.total)} are free in {folder}"
    if usage.free < LEAST_FREE or usage.free < LEAST_SHARE * usage.total:
        return care("disk", says, "free some space: old sessions, old backups, other files")
    return well("disk", says)


def heat(case: Case) -> Finding:
    """The hottest of the machine's thermal zones."""
    zones = []
    for path in (case.root / "sys/class/thermal").glob("thermal_zone*/temp"):
        text = _text(path)
        if text is not None and text.lstrip("-").isdecimal():
            zones.append(int(text) / 1000)
    if not zones:
        return untold("heat", "this machine does not tell its temperature")
    says = f"{max(zones):.0f} °C"
    if max(zones) >= HOTTEST_C:
        return care("heat", says, "give it air or a heat sink; it slows down when it is so hot")
    return well("heat", says)


def supply(case: Case, ask: Ask = ask_machine) -> Finding:
    """Whether the Pi has met too low a supply since it started."""
    text = _text(case.root / _THROTTLED) or ask(("vcgencmd", "get_throttled"))
    do = "use a supply and a cable that hold 5.1 V under load; low supply damages cards"
    try:
        bits = int((text or "").strip().rpartition("=")[2], 16)
    except ValueError:
        return _alarm(case, do)
    if bits & _NOW_LOW:
        return care("supply", "the supply is too low now", do)
    if bits & _WAS_LOW:
        return care("supply", "the supply was too low at times since the start", do)
    if bits & _NOW_SLOWED:
        return care("supply", "the processor is slowed down now", "see that it is not too hot")
    return well("supply", "no low supply since the machine started")


def _alarm(case: Case, do: str) -> Finding:
    """By the kernel's own alarm, which anybody may read, but which knows no past (from memory)."""
    for name in sorted((case.root / "sys/class/hwmon").glob("hwmon*/name")):
        if _text(name) == "rpi_volt":
            low = _text(name.with_name("in0_lcrit_alarm"))
            if low == "1":
                return care("supply", "the supply is too low now", do)
            if low == "0":
                return well("supply", "it is not too low now")
    return untold("supply", "this machine does not tell whether its supply is low")


def clock(case: Case, newest_wall_us: int | None) -> Finding:
    """Whether the wall clock can be believed; ``newest_wall_us`` is the log's newest time."""
    now_us = case.wall_us()
    now = datetime.fromtimestamp(now_us / 1_000_000, UTC)
    says = f"it says {now:%Y-%m-%d %H:%M} UTC"
    do = "give it a network or a clock module; guarding does not depend on it, the log's times do"
    if now.year < EARLIEST_YEAR:
        return care("clock", f"{says}, which is past: it was not set", do)
    if newest_wall_us is not None and newest_wall_us - now_us > AHEAD_US:
        behind = span((newest_wall_us - now_us) / 1_000_000)
        return care("clock", f"{says}, {behind} before the newest line of the log", do)
    timesync = case.root / "run/systemd/timesync"
    if timesync.is_dir() and not (timesync / "synchronized").exists():
        return care("clock", f"{says}, but no time server has set it since the start", do)
    return well("clock", says)


def _text(path: Path) -> str | None:
    try:
        return path.read_text("ascii").strip()
    except (OSError, UnicodeError):
        return None


def _size(octets: float) -> str:
    for unit in ("B", "kB", "MB"):
        if octets < 1000:
            return f"{octets:.0f} {unit}"
        octets /= 1000
    return f"{octets:.1f} GB"

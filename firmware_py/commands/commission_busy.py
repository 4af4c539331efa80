"""Whether an engine has the pins that a commissioning wants."""

from __future__ import annotations

from pathlib import Path

from firmware_py.health.record import STALE_AFTER_S, EngineHealth, boot_id, now_us, path_of, read


def engine_on(logbook: str) -> str | None:
    """Why a layout can't be commissioned now: an engine runs and has the pins; else ``None``."""
    record = read(path_of(logbook, EngineHealth), EngineHealth)
    if record is None or record.boot != boot_id():
        return None
    if (now_us() - record.at_us) / 1_000_000 > STALE_AFTER_S or not _runs(record.pid):
        return None
    return (
        f"an engine runs on {logbook} (process {record.pid}) and has the pins: two programs "
        'can\'t hold them. Stop "spurlock run" or "spurlock demo" first, then commission'
    )


def _runs(pid: int) -> bool:
    return Path("/proc", str(pid)).is_dir()

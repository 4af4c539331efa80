"""Entries of a logbook as lines to read, in plain words."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from firmware_py.layout.errors import printable
from firmware_py.logbook.records import (
    EntryRecord,
    RemarkRecord,
    SessionRecord,
    ViolationRecord,
)

_FAULTS = {
    "points-disputed": "{at}: both contacts of its points are made",
    "chattering": "{at} chatters",
    "lost": "{at} does not answer",
}
_FOREMEN = {
    "not-asked": "nobody asks for {spur} any more",
    "asked": "{spur} is asked for",
    "held": "{spur} is held",
    "released": "{spur} is released",
}
_PHASES = {
    "idle": "{spur} is idle",
    "opening": "{spur} is being opened",
    "working": "{spur} is at work",
    "closing": "{spur} is being closed",
}


def entry_words(entry: EntryRecord, violation: ViolationRecord | None = None) -> str:
    """An entry as one line: its time in the session, its kind, what happened.

    ``violation`` is its row as it stands now, if it is a violation.
    """
    said = happened(entry.what, entry.line) + (_since(violation) if violation else "")
    return _line(entry.t_us, entry.what, said)


def remark_words(remark: RemarkRecord) -> str:
    """What the engine has to say for itself, as one line."""
    return _line(remark.t_us, "remark", remark.text)


def session_words(session: SessionRecord) -> str:
    """A session as one line: its number, when it began, how long it lasted, on which layout."""
    end = "not ended" if session.ended_t_us is None else f"lasted {clock(session.ended_t_us)}"
    pins = "simulated" if session.simulated else "real pins"
    gap = f"  (its tape is not whole: {session.tape_gap})" if session.tape_gap else ""
    began = wall(session.began_wall_us)
    return printable(f"{session.id:>4}  {began}  {end}  {pins}  {session.layout_name}{gap}")


def clock(t_us: int) -> str:
    """A time in the session: hours, minutes, seconds."""
    seconds, milliseconds = divmod(round(t_us / 1_000), 1_000)
    minutes, seconds = divmod(seconds, 60)
    return f"{minutes // 60}:{minutes % 60:02d}:{seconds:02d}.{milliseconds:03d}"


def wall(wall_us: int) -> str:
    """A wall time in local time, with its distance from UTC.

    A wall time beyond the calendar, which a broken clock may give, stays a number.
    """
    try:
        there = datetime.fromtimestamp(wall_us / 1_000_000).astimezone()
    except (ValueError, OverflowError, OSError):
        return f"{wall_us} us"
    return there.isoformat(timespec="seconds")


def happened(what: str, line: Mapping[str, Any]) -> str:  # noqa: PLR0911 - one for each kind
    """What an entry tells, from its line."""
    match what:
        case "stage":
            return f"{line['switch']} is {line['stage'].replace('-', ' ')}"
        case "phase":
            step = f"; next: {line['next']}" if line["next"] else ""
            return _said(_PHASES, line["phase"], line) + step
        case "foreman":
            return _said(_FOREMEN, line["is"], line)
        case "output":
            return f"{line['of']}: {line['output']} {line['shows']}"
        case "speed":
            return f"{line['at']}: {line['mph']} scale miles per hour"
        case "fault":
            over = "; that is over" if line["ended"] else ""
            return _said(_FAULTS, line["fault"], line) + over
        case "brake-test":
            cars = f": {line['cars']} cars, {line['seconds']} s" if "cars" in line else ""
            return f"brake test of {line['spur']} is {line['is']}{cars}"
        case "refused":
            about = line.get("spur") or f"violation {line.get('violation')}"
            return f"{line['command']} {about}: {line['why']}"
        case "violation":
            spur = f" (spur {line['spur']})" if line["spur"] else ""
            missing = f"; missing: {', '.join(line['missing'])}" if line["missing"] else ""
            return f"{line['number']}: {line['rule']} at {line['at']}{spur}{missing}"
        case _:
            return "  ".join(f"{key} {value}" for key, value in line.items())


def _since(violation: ViolationRecord) -> str:
    times = f"; {violation.times} times, last at {clock(violation.last_t_us)}"
    said = times if violation.times > 1 else ""
    if violation.acknowledged_t_us is not None:
        note = f' ("{violation.note}")' if violation.note else ""
        said += f"; acknowledged at {clock(violation.acknowledged_t_us)}{note}"
    return said


def _said(words: Mapping[str, str], word: str, line: Mapping[str, Any]) -> str:
    return words.get(word, f"{word} {{at}}{{spur}}").format(
        at=line.get("at", ""), spur=line.get("spur", "")
    )


def _line(t_us: int | None, what: str, said: str) -> str:
    when = "" if t_us is None else clock(t_us)
    return printable(f"{when:>11}  {what:<10}  {said}")

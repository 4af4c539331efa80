"""How a box fares, in the words that people read. Pure."""

from __future__ import annotations

from firmware_py.gathering.attendance import Fares

SAYS: dict[str, str] = {
    Fares.GUARDING: "guards",
    Fares.STARTING: "starts; nothing is proven yet",
    Fares.STOPPED: "its engine is stopped; treat its switches as red",
    Fares.BY_HAND: "an output there is worked by hand; treat its switches as red",
    Fares.ABSENT: "has no engine; treat its switches as red",
    Fares.LISTENING: "not heard yet; treat its switches as red",
    Fares.SILENT: "silent; treat its switches as red",
    Fares.GONE: "switched off or cut off; treat its switches as red",
    Fares.STILL: "its engine stands still; treat its switches as red",
    Fares.BEHIND: "catching up; treat its switches as red",
    Fares.UNREADABLE: "what it says can't be read; treat its switches as red",
    Fares.SHARED: "two boxes have this name; treat the switches of both as red",
}

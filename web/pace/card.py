"""A locomotive's card: what to put into its decoder and how it then runs. Pure.

``advice`` is what ``web.pace.fitting`` answered, as plain JSON: the shapes of
``firmware_py.dynamics.advising`` must not be imported here, for scipy would come with them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from firmware_py.dynamics.scale_speed import MM_PER_INCH
from firmware_py.layout.model import Layout
from firmware_py.logbook.screen.locomotives import Locomotive

FIRST_CV = 67
IN_A_ROW = 7
FORWARD_TRIM, PLAIN = 66, 128


@dataclass(frozen=True, slots=True)
class Card:
    """What is printed. ``table`` is rows of (CV, level, scale mph); ``stops`` are in words."""

    name: str
    layout: str
    top: str
    everyday: str
    simple: tuple[tuple[str, int, str], ...]
    table: tuple[tuple[tuple[int, int, str], ...], ...]
    forward_trim: int
    reverse_trim: int
    stops: tuple[tuple[str, str], ...]
    corrected: bool
    coarse: bool


def card_of(one: Locomotive, layout: Layout, advice: Any) -> Card:  # noqa: ANN401 - JSON
    """Fill a card."""
    settings, braking, away = advice["settings"], advice["braking"], advice["away"]
    cells = [
        (FIRST_CV + at, level, f"{mph:.1f}")
        for at, (level, mph) in enumerate(zip(settings["table"], advice["table_mph"], strict=True))
    ]
    return Card(
        name=one.name,
        layout=layout.name,
        top=f"{settings['top_mph']:.0f} scale mph",
        everyday=f"{settings['top_mph'] / 2:.0f} scale mph",
        simple=_simple(settings, braking, away),
        table=tuple(tuple(cells[at : at + IN_A_ROW]) for at in range(0, len(cells), IN_A_ROW)),
        forward_trim=PLAIN,
        reverse_trim=settings["reverse_trim"],
        stops=_stops(braking),
        corrected=one.stop is not None,
        coarse=braking["coarse"],
    )


def _simple(
    settings: Mapping[str, Any], braking: Mapping[str, Any], away: Mapping[str, Any]
) -> tuple[tuple[str, int, str], ...]:
    return (
        ("CV2", settings["start"], "start: the drive at the first step"),
        ("CV6", settings["middle"], "middle: the drive at the middle step"),
        ("CV5", settings["top"], "top: the drive at the last step"),
        ("CV3", away["cv"], "getting away"),
        ("CV4", braking["cv"], "braking"),
    )


def _stops(braking: Mapping[str, Any]) -> tuple[tuple[str, str], ...]:
    return (
        ("From full speed", length(braking["from_full_mm"])),
        ("From half speed", length(braking["from_half_mm"])),
        ("Time from full speed to rest", f"{braking['full_seconds']:.1f} s"),
    )


def length(mm: float) -> str:
    """A distance on the layout, in inches and millimetres."""
    return f"{mm / MM_PER_INCH:.0f} in ({mm:.0f} mm)"

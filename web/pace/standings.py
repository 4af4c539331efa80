"""What the roll tests mean for each spur. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import msgspec

from firmware_py.dynamics.resistance import (
    AXLES,
    LOADED_TONS,
    grade_equivalent_percent,
    modified_davis,
)
from firmware_py.dynamics.rolling import (
    Runaway,
    from_ramp,
    from_steady_grade,
    from_two_speeds,
)
from firmware_py.dynamics.scale_speed import scale_mph
from firmware_py.dynamics.securing import Siding, Standing, standing
from firmware_py.dynamics.sound import UnsoundError
from firmware_py.layout.model import Layout
from firmware_py.logbook.screen.rolls import Measured, Ramp, Roll, Tilt

SETTING = "standing-cars"
"""The screen's setting that keeps where cars stand: JSON, ``{spur: [way_mm, cuts]}``."""

USUAL_MM = 900.0
"""From where cars stand to the clearance point, where nobody has measured it."""

REAL_PERCENT = grade_equivalent_percent(modified_davis(LOADED_TONS, AXLES, 0))
"""The grade on which a real loaded car would just keep rolling."""

Places = Mapping[str, tuple[float, int]]


def places_in(text: str | None) -> dict[str, tuple[float, int]]:
    """The places that were kept; spoilt text is none."""
    try:
        return msgspec.json.decode(text or "{}", type=dict[str, tuple[float, int]])
    except msgspec.MsgspecError:
        return {}


def resistance_of(measured: Measured) -> float:
    """The rolling resistance that a test shows. Raises ``UnsoundError``."""
    match measured:
        case Tilt(rise, run):
            return from_steady_grade(rise, run)
        case Ramp(height, to_rest):
            return from_ramp(height, to_rest)
        case _:
            return from_two_speeds(measured.first_mm_s, measured.second_mm_s, measured.apart_mm)


def sound(rolls: Sequence[Roll]) -> list[Roll]:
    """Those that show something; a row of another hand's making must not hide the others."""
    found = []
    for roll in rolls:
        try:
            resistance_of(roll.measured)
        except UnsoundError:
            continue
        found.append(roll)
    return found


def roll_views(rolls: Sequence[Roll]) -> list[dict[str, Any]]:
    """Each test with the grade on which its car keeps rolling."""
    return [
        {
            "id": roll.id,
            "car": roll.car,
            "measured": msgspec.to_builtins(roll.measured),
            "percent": round(100 * resistance_of(roll.measured), 3),
        }
        for roll in rolls
    ]


def freest(rolls: Sequence[Roll]) -> Roll | None:
    """The car that rolls most easily: it is the one that runs away."""
    return min(rolls, key=lambda roll: resistance_of(roll.measured), default=None)


def standing_views(layout: Layout, rolls: Sequence[Roll], places: Places) -> list[dict[str, Any]]:
    """Every spur: what becomes of the freest car that is left on it, and the chocks it needs."""
    free = freest(rolls)
    resistance = None if free is None else resistance_of(free.measured)
    views = []
    for spur in layout.spurs:
        way, cuts = places.get(spur.id, (USUAL_MM, 1))
        siding = Siding(spur.grade_percent, way, layout.ratio, layout.chock_from_percent, cuts)
        found = standing(siding, resistance)
        fitted = sum(chock.spur == spur.id for chock in layout.chocks)
        views.append(
            {
                "spur": spur.id,
                "name": spur.name,
                "grade_percent": spur.grade_percent,
                "way_mm": way,
                "cuts": cuts,
                "chocks": found.chocks,
                "fitted": fitted,
                "enough": fitted >= found.chocks,
                "why": found.why,
                "let_go": _let_go(found, layout.ratio),
                "nudged": _nudged(found.nudged, way, layout.ratio),
            }
        )
    return views


def _let_go(found: Standing, ratio: float) -> str:
    away = found.let_go
    if away is None:
        return "not known: no car has been measured"
    if away.stops or away.seconds is None:
        return "stands"
    mph = scale_mph(away.mm_per_s, 1, ratio)
    return f"rolls off; {mph:.0f} scale mph at the clearance point, after {away.seconds:.1f} s"


def _nudged(away: Runaway | None, way: float, ratio: float) -> str:
    if away is None:
        return "not known: no car has been measured"
    if away.stops:
        return f"stops after {away.rolled_mm:.0f} mm of {way:g}"
    mph = scale_mph(away.mm_per_s, 1, ratio)
    return f"runs away; {mph:.0f} scale mph at the clearance point"

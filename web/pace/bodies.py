"""The bodies of what the Pace page asks for."""

from __future__ import annotations

from typing import Annotated, Literal

import msgspec

from firmware_py.logbook.screen.rolls import Measured
from web.asks import MOST

Name = Annotated[str, msgspec.Meta(min_length=1, max_length=80, pattern=r"\S")]
Id = Annotated[int, msgspec.Meta(ge=0, le=MOST)]
Cv = Annotated[int, msgspec.Meta(ge=0, le=255)]
Step = Annotated[int, msgspec.Meta(ge=1, le=126)]
Mph = Annotated[float, msgspec.Meta(ge=0, le=1000)]
Millimetres = Annotated[float, msgspec.Meta(gt=0, le=100_000)]
Moment = Annotated[int, msgspec.Meta(ge=0, le=2**53)]


class LocomotiveBody(msgspec.Struct, forbid_unknown_fields=True):
    """A locomotive's name, its settings as it is measured, and what is wanted of it."""

    name: Name
    id: Id = 0
    steps: Literal[14, 28, 126] = 28
    cv2: Cv = 0
    cv6: Cv = 0
    cv5: Cv = 0
    top_mph: Annotated[float, msgspec.Meta(gt=0, le=1000)] | None = None
    stop_mm: Millimetres = 762.0
    away_mm: Millimetres | None = None


class PassBody(msgspec.Struct, forbid_unknown_fields=True):
    """A pass of a trap that the log holds."""

    t_us: Moment
    at: Annotated[str, msgspec.Meta(min_length=1, max_length=200)]


class RunBody(msgspec.Struct, forbid_unknown_fields=True):
    """A measured pass: of the log, or by its speed; 0 is "stood"."""

    step: Step
    forward: bool
    mph: Mph | None = None
    passed: PassBody | None = None


class ForgetBody(msgspec.Struct, forbid_unknown_fields=True):
    """Which of a locomotive's passes, counted from 0, is thrown away."""

    place: Annotated[int, msgspec.Meta(ge=0, le=1000)]


class StopBody(msgspec.Struct, forbid_unknown_fields=True):
    """A measured stop. ``entry_mph`` is the trap's speed just before, where it was read."""

    cv4: Annotated[int, msgspec.Meta(ge=1, le=255)]
    from_step: Step
    stopped_mm: Millimetres
    entry_mph: Annotated[float, msgspec.Meta(gt=0, le=1000)] | None = None


class StopChange(msgspec.Struct, forbid_unknown_fields=True):
    """The stop that was measured; ``null`` forgets the one that is kept."""

    stop: StopBody | None


class BackBody(msgspec.Struct, forbid_unknown_fields=True):
    """Take away, or with ``back`` bring back."""

    back: bool = False


class RollBody(msgspec.Struct, forbid_unknown_fields=True):
    """A roll test of a car."""

    car: Name
    measured: Measured


class PlaceBody(msgspec.Struct, forbid_unknown_fields=True):
    """Where cars stand on a spur: how far above the clearance point, in how many cuts."""

    spur: Annotated[str, msgspec.Meta(min_length=1, max_length=200)]
    way_mm: Millimetres
    cuts: Annotated[int, msgspec.Meta(ge=1, le=50)] = 1


class CalibrationBody(msgspec.Struct, forbid_unknown_fields=True):
    """What a trap showed of a train, and the long distance and time that tell its true speed."""

    trap: Annotated[str, msgspec.Meta(min_length=1, max_length=200)]
    shown: Annotated[
        list[Annotated[float, msgspec.Meta(gt=0, le=1000)]],
        msgspec.Meta(min_length=1, max_length=50),
    ]
    distance_mm: Millimetres | None = None
    seconds: Annotated[float, msgspec.Meta(gt=0, le=86_400)] | None = None
    true_mph: Annotated[float, msgspec.Meta(gt=0, le=1000)] | None = None


class AirQuery(msgspec.Struct, forbid_unknown_fields=True):
    """A brake test to be worked out: real miles to run, cars worked, and what was done."""

    cars: Annotated[int, msgspec.Meta(ge=1, le=300)] = 5
    miles: Annotated[float, msgspec.Meta(ge=0, le=10_000)] = 10.0
    work: Literal["made-up", "picked-up", "set-out"] = "made-up"

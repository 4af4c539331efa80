"""``spurlock notches``: a locomotive's settings from its passes of a trap, notch by notch."""

from __future__ import annotations

import argparse
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import msgspec

from firmware_py.dynamics.drive import Drive
from firmware_py.dynamics.scale_speed import MM_PER_INCH
from firmware_py.dynamics.sound import UnsoundError
from firmware_py.layout.errors import printable
from firmware_py.layout.scales import DEFAULT, RATIOS

if TYPE_CHECKING:
    from firmware_py.dynamics.advising import Advice

    Subparsers = argparse._SubParsersAction[argparse.ArgumentParser]

ADVISED, UNREADABLE = 0, 2

DESCRIPTION = """\
Work out a decoder's settings (NMRA S-9.2.2) from a locomotive's passes of a
speed trap at several throttle steps, each way: start, middle and top, the
table of 28, and what makes it stop where it should. It only advises.

A stop that was measured with these settings goes into the file as [stop], and
corrects the braking. The exit status is 2 with one line where the file can't
be read, or holds too little to go by.
"""

EXAMPLES = """\
a file to start from:
  name = "No. 7"
  scale = "HO"            # or ratio = 87.1
  top_mph = 26            # left out: half of what it can do
  stop_mm = 762           # from full speed; two to three feet is usual
  [in_force]              # as it was measured; 0 is "not used"
  steps = 28
  cv2 = 0
  cv6 = 0
  cv5 = 0
  [[pass]]                # seven steps or more, each way
  step = 4
  way = "forward"         # or "reverse"
  mph = 6.2               # 0: it stood
  # [stop]                # once it was measured
  # cv4 = 12
  # from_step = 28
  # stopped_mm = 840

examples:
  spurlock notches no-7.toml
  spurlock notches no-7.toml --json
"""


class InForce(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The settings in force as it was measured."""

    steps: int = 28
    cv2: int = 0
    cv6: int = 0
    cv5: int = 0


class OnePass(msgspec.Struct, forbid_unknown_fields=True):
    """One pass."""

    step: int
    way: Literal["forward", "reverse"]
    mph: float


class StopTable(msgspec.Struct, forbid_unknown_fields=True):
    """A measured stop."""

    cv4: int
    from_step: int
    stopped_mm: float
    entry_mph: float | None = None


class Sheet(msgspec.Struct, forbid_unknown_fields=True):
    """The file."""

    name: str
    scale: str | None = None
    ratio: float | None = None
    top_mph: float | None = None
    stop_mm: float = 762.0
    away_mm: float | None = None
    in_force: InForce = InForce()
    passes: list[OnePass] = msgspec.field(name="pass", default_factory=list)
    stop: StopTable | None = None


def add_parser(subparsers: Subparsers) -> None:
    """Add the command to the console script's parser."""
    parser = subparsers.add_parser(
        "notches",
        help="work out a locomotive's throttle settings from its passes of a trap",
        description=DESCRIPTION,
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("file", metavar="FILE", type=Path, help="what was measured (TOML)")
    parser.add_argument("--json", action="store_true", help="print everything, as JSON")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Read, advise, print."""
    try:
        sheet = read_sheet(args.file)
        advice = _advice(sheet)
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError, msgspec.MsgspecError) as wrong:
        return _refuse(args.file, getattr(wrong, "strerror", None) or str(wrong))
    except UnsoundError as wrong:
        return _refuse(args.file, str(wrong))
    if args.json:
        print(msgspec.json.encode(advice).decode())
    else:
        for line in told(sheet, advice):
            print(line)
    return ADVISED


def read_sheet(path: Path) -> Sheet:
    """Read a file. Raises what its readers raise, and ``UnsoundError`` for a strange scale."""
    with path.open("rb") as file:
        return msgspec.convert(tomllib.load(file), Sheet)


def _advice(sheet: Sheet) -> Advice:
    # scipy takes a second to load, which the other commands must not wait for.
    from firmware_py.dynamics.advising import Measured, Question, advise  # noqa: PLC0415 - scipy
    from firmware_py.dynamics.throttle import Run  # noqa: PLC0415 - scipy

    stop, force = sheet.stop, sheet.in_force
    measured = None
    if stop is not None:
        measured = Measured(stop.cv4, stop.from_step, stop.stopped_mm, stop.entry_mph)
    return advise(
        Question(
            ratio=_ratio(sheet),
            runs=tuple(Run(one.step, one.way == "forward", one.mph) for one in sheet.passes),
            stop_mm=sheet.stop_mm,
            drive=Drive(force.steps, force.cv2, force.cv6, force.cv5),
            top_mph=sheet.top_mph,
            away_mm=sheet.away_mm,
            measured=measured,
        )
    )


def _ratio(sheet: Sheet) -> float:
    if sheet.ratio is not None:
        if sheet.scale is not None:
            raise UnsoundError("scale and ratio are both given; keep one of them")
        return sheet.ratio
    scale = sheet.scale or DEFAULT
    if scale not in RATIOS:
        raise UnsoundError(
            f"there is no scale {scale!r}; give one of {', '.join(RATIOS)}, or ratio"
        )
    return RATIOS[scale]


def told(sheet: Sheet, advice: Advice) -> Iterator[str]:
    """The advice in lines."""
    settings, braking = advice.settings, advice.braking
    yield f"{printable(sheet.name)}: {settings.top_mph:.1f} scale mph at full throttle"
    yield f"  half of what it can do is {advice.everyday_mph:.0f}, which is usual for a local"
    yield f"  CV2 {settings.start}   CV6 {settings.middle}   CV5 {settings.top}"
    yield f"  CV3 {advice.away.cv}   CV4 {braking.cv}"
    yield f"  or CV67 to CV94, with CV66 128 and CV95 {settings.reverse_trim}:"
    table = [f"{level:3}" for level in settings.table]
    for at in range(0, len(table), 7):
        yield f"    CV{67 + at}: {' '.join(table[at : at + 7])}"
    yield f"  stops in {_length(braking.from_full_mm)} from full speed,"
    yield f"  in {_length(braking.from_half_mm)} from half"
    yield f"  ({_how(sheet, braking.coarse)})"


def _how(sheet: Sheet, coarse: bool) -> str:
    how = "foretold; measure one stop" if sheet.stop is None else "corrected by the measured stop"
    return f"{how}; no whole number comes nearer" if coarse else how


def _length(mm: float) -> str:
    return f"{mm / MM_PER_INCH:.0f} in ({mm:.0f} mm)"


def _refuse(path: Path, why: Any) -> int:  # noqa: ANN401 - whatever a reader says
    print(f"{printable(str(path))}: {printable(str(why))}", file=sys.stderr)
    return UNREADABLE

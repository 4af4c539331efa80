"""``spurlock forecast``: whether the jobs prepared fit the evening, and what to leave out."""

from __future__ import annotations

import argparse
import gc
import sys
import time
from collections.abc import Iterator
from typing import TYPE_CHECKING

import msgspec

from firmware_py.commands.last_layout import last_layout
from firmware_py.forecast.words import (
    FEWEST_EVENINGS,
    MOST_EVENINGS,
    Answer,
    Ends,
    Figure,
    ForecastError,
)
from firmware_py.layout.errors import LayoutError, printable
from firmware_py.layout.model import Layout
from firmware_py.logbook.errors import LogbookError
from firmware_py.logbook.forecasting import Wanted, question_of
from firmware_py.logbook.opening import open_engine, open_to_read
from firmware_py.logbook.screen.forecasts import keep_forecast

if TYPE_CHECKING:
    Subparsers = argparse._SubParsersAction[argparse.ArgumentParser]

DESCRIPTION = """\
Say when the jobs of a logbook will end, how likely the whole is to be done in
time, what crews will wait for, and which jobs to leave out. The evening is
simulated many times: crews side by side, who share spurs and the foreman. How
long each step takes is told by this layout's own log and, until that has
twenty times of a step, by an estimate.

Times are hours and minutes from the start of the session. Behind each stands
how far chance alone may have moved it.
"""

EXAMPLES = """\
examples:
  spurlock forecast my-layout.sqlite --minutes 150 --crews 3
  spurlock forecast my-layout.sqlite --minutes 150 --chance 90
  spurlock forecast my-layout.sqlite --waits 6       how it were at prototype's pace
  spurlock forecast my-layout.sqlite --keep          for the debrief to compare with
  spurlock forecast my-layout.sqlite --as json
"""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command to the console script's parser."""
    parser = subparsers.add_parser(
        "forecast",
        help="say whether the jobs fit the evening, and which to leave out",
        description=DESCRIPTION,
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("logbook", metavar="LOGBOOK", help="the logbook: a SQLite file, or a URL")
    parser.add_argument(
        "--minutes", type=float, default=120.0, metavar="N", help="the evening's length (120)"
    )
    parser.add_argument("--crews", type=int, metavar="N", help="crews (as many as the jobs name)")
    parser.add_argument(
        "--chance", type=float, default=80.0, metavar="%", help="the chance wanted, per cent (80)"
    )
    parser.add_argument(
        "--waits", type=float, metavar="X", help="paced waits, times the layout's (the dial's)"
    )
    parser.add_argument(
        "--evenings",
        type=int,
        default=2000,
        metavar="N",
        help=f"how many to simulate, {FEWEST_EVENINGS} to {MOST_EVENINGS} (2000)",
    )
    parser.add_argument("--seed", type=int, default=1, metavar="N", help="of the chances (1)")
    parser.add_argument(
        "--keep", action="store_true", help="keep it for the next session's debrief"
    )
    parser.add_argument("--as", dest="form", choices=("text", "json"), default="text", help="how")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command; the answer is the exit status."""
    from firmware_py.forecast.answering import answered  # noqa: PLC0415 - numpy, scipy and simpy

    gc.freeze()  # What was loaded stays: the collector need not look at it for each evening.
    wanted = Wanted(
        args.minutes, args.crews, args.chance / 100, args.evenings, args.seed, args.waits
    )
    try:
        database = open_to_read(args.logbook)  # It makes no logbook where there is none.
        try:
            layout = last_layout(database)
            answer = answered(question_of(database, layout, wanted))
        finally:
            database.dispose()
        if args.keep:
            _keep(args.logbook, layout, answer)
    except (LogbookError, LayoutError, ForecastError) as error:
        print(printable(str(error)), file=sys.stderr)
        return 2
    if args.form == "json":
        print(msgspec.json.encode(answer).decode())
    else:
        for line in lines(answer, layout.name):
            print(printable(line))
    return 0


def lines(answer: Answer, layout: str) -> Iterator[str]:
    """The forecast for a terminal."""
    names = {one.job: one.name for one in answer.jobs}
    yield (
        f"{layout}: {_counted(len(answer.jobs), 'job')}, {_counted(answer.crews, 'crew')}, "
        f"{_clock(answer.minutes * 60)} of time; {answer.evenings} evenings simulated"
    )
    yield ""
    yield f"{'':<30}{'in time':>12}{'1 of 10':>9}{'middle':>8}{'9 of 10':>9}  give or take"
    for ends in (answer.whole, *answer.jobs):
        yield _row(ends, left_out=ends.job in answer.leave_out.jobs)
    yield from _left_out(answer, names)
    yield from _held_up(answer, names)
    yield ""
    yield "Paced waits (times the layout's):"
    for dial in answer.dial:
        mark = " <- as dialled" if dial.scale == answer.wait_scale else ""
        yield (
            f"  x {dial.scale:<6g} {dial.waiting_percent.value:4.0f} % of crews' time is waiting, "
            f"done by {_clock(dial.middle_s)} on every second evening{mark}"
        )
    for bad in answer.unworkable:
        yield f"Left out of the reckoning: {bad.name}: {bad.why}."
    yield ""
    yield from _known(answer)


def _row(ends: Ends, *, left_out: bool) -> str:
    name = "everything" if ends.job == 0 else ends.name
    name = f"{name[:24]} (out)" if left_out else name[:30]
    times = [_clock(one.value) for one in (ends.low, ends.middle, ends.high)]
    error = max(1, round(ends.middle.error / 60))
    return (
        f"{name:<30}{_percent(ends.chance):>12}{times[0]:>9}{times[1]:>8}{times[2]:>9}  {error} min"
    )


def _left_out(answer: Answer, names: dict[int, str]) -> Iterator[str]:
    choice, wanted = answer.leave_out, f"{100 * answer.chance_wanted:g} %"
    yield ""
    if not choice.jobs:
        yield f"For {wanted}: leave nothing out." if choice.reached else f"{wanted}: out of reach."
        return
    listed = ", ".join(names[job] for job in choice.jobs)
    then = "the rest is then done in time with" if choice.reached else "and even then it is only"
    yield f"For {wanted}, leave out: {listed}; {then} {_percent(choice.chance)}."


def _held_up(answer: Answer, names: dict[int, str]) -> Iterator[str]:
    for one in answer.bottlenecks:
        who = ", ".join(names[job] for job in one.jobs[:4]) + (", ..." if one.jobs[4:] else "")
        yield (
            f"Crews wait {_clock(one.waited_s.value)} in all for {one.name}, which is had "
            f"{100 * one.busy:.0f} % of the time ({who})."
        )


def _known(answer: Answer) -> Iterator[str]:
    measured, steps = sum(one.measured for one in answer.known), len(answer.known)
    if not answer.sessions:
        yield "Nothing is measured on this layout yet: all step times are estimates."
        return
    yield (
        f"From {_counted(answer.sessions, 'session')}: {measured} of {steps} step times are "
        "measured, the others estimated."
    )
    if answer.lessons:
        yield f"{_counted(answer.lessons, 'earlier forecast')} with what came of it corrected this."


def _percent(chance: Figure) -> str:
    shown = min(max(round(100 * chance.value), 1), 99)
    return f"{shown} +- {max(1, round(100 * chance.error))} %"


def _clock(seconds: float) -> str:
    minutes = max(0, round(seconds / 60))
    return f"{minutes // 60}:{minutes % 60:02}"


def _counted(number: int, one: str) -> str:
    return f"{number} {one}" if number == 1 else f"{number} {one}s"


def _keep(logbook: str, layout: Layout, answer: Answer) -> None:
    database = open_engine(logbook)
    try:
        keep_forecast(database, layout.name, answer, time.time_ns() // 1_000)
    finally:
        database.dispose()

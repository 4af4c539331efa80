"""A job's sheet: everything a crew needs on paper, and a slip for each industry's box."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import segno
from markupsafe import Markup

from firmware_py.layout.model import FOREMAN, Spur
from firmware_py.logbook.screen.jobs import Car, Job
from firmware_py.logbook.screen.ticks import Step
from web.crew.own import says
from web.jobs.views import keys_of
from web.live.board import Work
from web.live.plan import Plan
from web.live.steps import next_step

REARS = {"": "not asked for", "marker": "marker on the last car", "caboose": "caboose at the end"}


@dataclass(frozen=True, slots=True)
class SheetKey:
    """A key to issue, and the names of the job's spurs that it is for."""

    name: str
    spurs: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SheetStop:
    """A stop in words. ``known`` is false where the layout has no such spur any more."""

    name: str
    known: bool
    before: tuple[str, ...]
    after: tuple[str, ...]
    pull: tuple[Car, ...]
    spot: tuple[Car, ...]
    note: str

    @property
    def for_the_box(self) -> bool:
        """Whether there is anything that the industry's box keeps until it is opened."""
        return bool(self.note or any(car.place for car in self.spot))


@dataclass(frozen=True, slots=True)
class Sheet:
    """A whole sheet; ``leaving`` is what the crew sees to before it leaves the yard."""

    job: Job
    layout: str
    rear: str
    keys: tuple[SheetKey, ...]
    leaving: tuple[str, ...]
    stops: tuple[SheetStop, ...]

    @property
    def slips(self) -> list[SheetStop]:
        """The stops that have something for their industry's box."""
        return [stop for stop in self.stops if stop.for_the_box]


def sheet_of(job: Job, plan: Plan, own: Sequence[Step]) -> Sheet:
    """The sheet of a job on a layout; ``own`` are the crew's own steps that are switched on."""
    return Sheet(
        job,
        plan.layout.name,
        REARS.get(job.rear, job.rear),
        tuple(_key(key, job, plan) for key in job.keys),
        tuple(_own([Step.YARD, Step.REAR], own, job)),
        tuple(_stop(at, job, plan, own) for at in range(len(job.stops))),
    )


def qr_svg(url: str) -> Markup:
    """A QR code as an SVG element, black on its own white, sized by the page."""
    code = segno.make_qr(url, error="m")
    return Markup(  # Segno draws modules; no text of ours is in the markup.
        code.svg_inline(border=4, light="#fff", svgclass="qr", lineclass=None, omitsize=True)
    )


def _key(key: str, job: Job, plan: Plan) -> SheetKey:
    wanted = {stop.spur for stop in job.stops}
    spurs = (spur for spur in plan.layout.spurs if spur.id in wanted)
    users = tuple(spur.name for spur in spurs if key in keys_of(spur, plan.layout))
    return SheetKey(plan.name(key), users)


def _stop(at: int, job: Job, plan: Plan, own: Sequence[Step]) -> SheetStop:
    stop = job.stops[at]
    spur = plan.things.get(stop.spur)
    if not isinstance(spur, Spur):
        return SheetStop(stop.spur, False, (), (), stop.pull, stop.spot, stop.note)
    after = [Step.STRETCH] if stop.pull else []
    after += [Step.REAR] if at == len(job.stops) - 1 else []
    return SheetStop(
        spur.name,
        True,
        (*_opening(spur, plan), *_own([Step.HORN], own, job)),
        (*_own(after, own, job), *_closing(spur, plan)),
        stop.pull,
        stop.spot,
        stop.note,
    )


def _own(steps: Sequence[Step], own: Sequence[Step], job: Job) -> Iterator[str]:
    for step in steps:
        if step in own and (step is not Step.REAR or job.rear):
            yield says(step, job)[0]


def _opening(spur: Spur, plan: Plan) -> Iterator[str]:
    for step in spur.opening:
        told = next_step(Work("opening", step), spur, plan.things.get(step), "secured")
        yield f"{told}, and wait for the answer" if step == FOREMAN else told


def _closing(spur: Spur, plan: Plan) -> Iterator[str]:
    for step in spur.closing:
        yield next_step(Work("closing", step), spur, plan.things.get(step), "in-use")

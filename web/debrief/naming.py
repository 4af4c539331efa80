"""What steps, violations and jobs are called in a debrief. Pure."""

from __future__ import annotations

from collections.abc import Mapping

from firmware_py.layout.model import FOREMAN, Layout, Spur, Switch
from firmware_py.logbook.records import ViolationRecord
from firmware_py.logbook.screen.jobs import Job
from web.live.plan import Plan, short_name
from web.live.reasons import reason_for

WORK = "work"
NOBODY = "Without a job"


def step_name(plan: Plan, spur: str, phase: str, step: str) -> str:
    """A step of a spur's order in a few words, such as ``West flag down``."""
    opening = phase == "opening"
    if step == FOREMAN:
        return "Foreman's answer" if opening else "Handing back"
    if step == WORK:
        return "Going in" if opening else "The work itself"
    thing = plan.things.get(step)
    name = thing.name if thing else step
    heading = plan.rows[spur].name if spur in plan.rows else ""
    called = short_name(name, heading)
    called = called[:1].upper() + called[1:]
    if isinstance(thing, Switch):
        return f"{called} opened" if opening else f"{called} restored"
    return f"{called} off" if opening else f"{called} back"


def orders_of(layout: Layout) -> dict[str, list[tuple[str, str]]]:
    """The steps of each spur in the order in which they come, as (phase, step)."""
    return {spur.id: _order(spur) for spur in layout.spurs}


def _order(spur: Spur) -> list[tuple[str, str]]:
    opening = [("opening", step) for step in (*spur.opening, WORK)]
    return [*opening, ("working", WORK), *(("closing", step) for step in spur.closing)]


def violation_title(rule: str) -> str:
    """A rule's short name."""
    return reason_for(rule).title


def violation_says(violation: ViolationRecord, plan: Plan) -> str:
    """A violation in a few words: which rule, and where."""
    return f"{violation_title(violation.rule)}: {plan.name(violation.at)}"


def violation_happened(violation: ViolationRecord, plan: Plan) -> str:
    """A violation in a sentence. A foreman out of his turn is told as his word for the spur."""
    foreman = violation.rule == "out-of-order" and violation.at == violation.spur
    name = plan.name(violation.at)
    return reason_for(violation.rule).happened.format(
        at=f"The foreman's word for {name}" if foreman else name,
        spur=plan.name(violation.spur or violation.at),
        missing=", then ".join(plan.name(step) for step in violation.missing) or "nothing",
    )


def job_name(jobs: Mapping[int, Job], job: int) -> str:
    """A job's name; 0 is none."""
    known = jobs.get(job)
    return known.name if known else NOBODY

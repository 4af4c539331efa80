"""A debrief as JSON: the figures behind the page. Times are microseconds unless named otherwise."""

from __future__ import annotations

from typing import Any

from web.debrief.digest import Digest
from web.debrief.naming import job_name, step_name, violation_happened, violation_title
from web.debrief.pace import Spread, StepTime
from web.debrief.study import Debrief
from web.debrief.summary import summary_of
from web.debrief.waiting import Waiting
from web.forecast.compared import compared_view

View = dict[str, Any]


def debrief_view(debrief: Debrief) -> View:
    """The whole debrief."""
    header, evening = debrief.told.header, debrief.evening
    summary = summary_of(debrief)
    return {
        "session": header.id,
        "layout": header.layout_name,
        "opened": header.opened,
        "began_wall_us": header.began_wall_us,
        "ended": evening.ended,
        "length_us": evening.length_us,
        "summary": {
            "lead": summary.lead,
            "well": list(summary.well),
            "talk": list(summary.talk),
            "mend": list(summary.mend),
        },
        "rounds": evening.rounds,
        "ceiling_percent": debrief.ceiling,
        "waiting": _waiting(debrief.whole),
        "waiting_by_job": [
            {"job": job or None, "name": job_name(debrief.jobs, job)} | _waiting(share)
            for job, share in debrief.shares.items()
        ],
        "earlier_sessions": debrief.history,
        "steps": [_step(one, debrief) for one in debrief.steps],
        "speeds": [
            {
                "t_us": one.t_us,
                "trap": one.trap,
                "mph": round(one.mph, 2),
                "limit_mph": debrief.limit(one.trap),
                "over": debrief.too_fast(one),
                "plus_minus_mph": debrief.speed(one)["plus_minus"],
                "toward": one.toward or None,
                "job": debrief.speed(one)["job"],
            }
            for one in evening.passes
        ],
        "rules": [
            {
                "rule": one.rule,
                "title": violation_title(one.rule),
                "violations": one.violations,
                "times": one.times,
                "unacknowledged": one.unacknowledged,
            }
            for one in debrief.rules
        ],
        "violations": violations_view(debrief),
        "faults": [
            {
                "fault": one.fault,
                "at": one.at,
                "times": one.times,
                "lasted_us": one.lasted_us,
                "stands": one.stands,
            }
            for one in debrief.faults
        ],
        "refusals": [
            {"t_us": one.t_us, "spur": one.spur, "command": one.command, "why": one.why}
            for one in evening.refusals
        ],
        "keys_not_home": [{"key": one.key, "known": one.known} for one in evening.keys_out],
        "sessions": [_session(one) for one in debrief.sessions],
        "forecast": None if debrief.forecast is None else compared_view(debrief.forecast),
    }


def violations_view(debrief: Debrief) -> list[View]:
    """Every violation, oldest first."""
    return [
        {
            "number": one.number,
            "t_us": one.t_us,
            "rule": one.rule,
            "title": violation_title(one.rule),
            "at": one.at,
            "at_name": debrief.plan.name(one.at),
            "spur": one.spur,
            "happened": violation_happened(one, debrief.plan),
            "times": one.times,
            "acknowledged": one.acknowledged_t_us is not None,
            "note": one.note,
        }
        for one in debrief.evening.violations
    ]


def _waiting(waiting: Waiting) -> View:
    percent = waiting.percent
    return {
        "time_us": waiting.time_us,
        "waited_us": waiting.waited_us,
        "foreman_us": waiting.foreman_us,
        "brake_test_us": waiting.brake_test_us,
        "percent": None if percent is None else round(percent, 2),
    }


def _step(one: StepTime, debrief: Debrief) -> View:
    return {
        "spur": one.spur,
        "phase": one.phase,
        "step": one.step,
        "name": step_name(debrief.plan, one.spur, one.phase, one.step),
        "now": _spread(one.now_spread),
        "before": None if one.before is None else _spread(one.before),
    }


def _spread(spread: Spread) -> View:
    return {
        "count": spread.count,
        "low_us": spread.low,
        "quarter_us": spread.quarter,
        "median_us": spread.median,
        "three_quarters_us": spread.three_quarters,
        "high_us": spread.high,
    }


def _session(one: Digest) -> View:
    return {
        "session": one.session,
        "began_wall_us": one.began_wall_us,
        "length_us": one.length_us,
        "violations": one.violations,
        "violations_per_hour": one.violations_per_hour,
        "waiting_percent": one.waiting.percent,
        "rounds": one.rounds,
        "cars": one.cars,
    }

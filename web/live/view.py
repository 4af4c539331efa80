"""The whole screen as JSON-ready sections, drawn from the board and what stands in the log.

Sections that are dicts are keyed by stable ids, so that a change can be sent on its own.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from firmware_py.layout.model import Contact, Kind, Layout, outputs_of
from firmware_py.layout.wires import pin_name
from firmware_py.logbook.records import (
    ByHandRecord,
    RemarkRecord,
    StandingRecord,
    ViolationRecord,
)
from firmware_py.logbook.screen.jobs import Job
from firmware_py.logbook.screen.ticks import Tick
from web.crew.progress import progress_of
from web.live import clocks
from web.live.board import Board
from web.live.by_hand import dark_stands, hands_view
from web.live.crews import AtWork, at_work
from web.live.desk import desk_view
from web.live.faults import fault_title, faulty_rows, open_faults
from web.live.keys import keys_view
from web.live.passes import At, jobs_at, speed_view, toward_says
from web.live.plan import Plan, short_name
from web.live.reasons import reason_for
from web.live.rows import Now, row_view
from web.live.senses import contact_says
from web.live.why import Why

View = dict[str, Any]
KEPT_ACKNOWLEDGED = 12
KEPT_OPEN = 200


class Known(NamedTuple):
    """All that a screen is drawn from; ``live`` is whether it is proven to be so now.

    ``opened`` is whether a host opened the session for work: only then are jobs under way.
    """

    board: Board
    plan: Plan
    violations: Sequence[ViolationRecord]
    standing: Mapping[str, StandingRecord]
    remarks: Sequence[RemarkRecord]
    live: bool
    opened: bool
    jobs: Sequence[Job]
    ticks: Sequence[Tick]
    settings: Mapping[str, str]
    by_hand: Mapping[str, ByHandRecord]
    toward: Mapping[At, str] = {}


def frame(known: Known) -> View:
    """The sections that are of no single thing of the layout."""
    return {"evening": _evening(known), "remarks": [_remark(remark) for remark in known.remarks]}


def sections(known: Known, working: tuple[AtWork, ...] | None = None) -> View:
    """Every section of the screen except its head.

    ``working`` is how far the jobs have come, where that is not to be read off this board alone.
    """
    board, plan, violations, standing = known.board, known.plan, known.violations, known.standing
    live = known.live
    settled = {name: contact.settled if live else None for name, contact in standing.items()}
    open_ones = [violation for violation in violations if violation.acknowledged_t_us is None]
    if working is None:
        working = at_work(known.jobs, known.ticks, board.work) if known.opened else ()
    why = Why(board, plan, open_ones, live)
    faulty, open_at = faulty_rows(board, plan), _open_at(open_ones, plan)
    now = Now(board, plan, settled, faulty, open_at, why, working, live, dark_stands(known.by_hand))
    return {
        **frame(known),
        "by_hand": hands_view(plan, known.by_hand),
        "desk": desk_view(plan, board, working, live=live),
        "keys": keys_view(plan, standing, working, live=live),
        "rows": {row.id: row_view(row, now) for row in plan.rows.values()},
        "violations": _violations(violations, board, plan),
        "open_count": len(open_ones),
        "faults": open_faults(board, plan),
        "speeds": _speeds(known),
        "contacts": _contacts(board, plan, standing, live=live),
        "outputs": _outputs(board, plan, live=live),
        "spurs": _spurs(plan.layout),
    }


def _evening(known: Known) -> View:
    """The layout's clock: it stood at ``starts_us`` of its day when the session began."""
    return {
        "opened": known.opened,
        "clock_ratio": known.plan.layout.clock_ratio,
        "starts_us": clocks.starts_us(known.settings.get(clocks.SETTING)),
    }


def _open_at(open_ones: Sequence[ViolationRecord], plan: Plan) -> dict[str, int]:
    counted: Counter[str] = Counter()
    for violation in open_ones:
        counted.update(set(plan.rows_of(violation.at)) | set(plan.rows_of(violation.spur or "")))
    return dict(counted)


def _violations(violations: Sequence[ViolationRecord], board: Board, plan: Plan) -> View:
    """Those the host still has to see, and the last few acknowledged, newest first."""
    waiting = [one for one in violations if one.acknowledged_t_us is None][:KEPT_OPEN]
    done = [one for one in violations if one.acknowledged_t_us is not None][:KEPT_ACKNOWLEDGED]
    return {str(one.number): violation_view(one, board, plan) for one in (*waiting, *done)}


def violation_view(violation: ViolationRecord, board: Board, plan: Plan) -> View:
    """A violation with all its words; times are session time in microseconds."""
    reason = reason_for(violation.rule)
    return {
        "number": violation.number,
        "rule": violation.rule,
        "title": reason.title,
        "at": violation.at,
        "at_name": plan.name(violation.at),
        "spur": violation.spur,
        "row": next(iter(plan.rows_of(violation.spur or violation.at)), None),
        "t_us": violation.t_us,
        "wall_us": violation.wall_us,
        "last_us": violation.last_t_us,
        "times": violation.times,
        "acknowledged": violation.acknowledged_t_us is not None,
        "acknowledged_us": violation.acknowledged_t_us,
        "note": violation.note,
        "happened": _happened(violation, board, plan),
        "means": reason.means,
        "why": reason.why,
        "sources": [{"name": one.name, "says": one.says} for one in reason.sources],
    }


def _happened(violation: ViolationRecord, board: Board, plan: Plan) -> str:
    said = reason_for(violation.rule).happened.format(
        at=_place(violation, plan),
        spur=plan.name(violation.spur or violation.at),
        missing=", then ".join(plan.name(step) for step in violation.missing) or "nothing",
    )
    mph = board.speed_of.get(violation.number)
    return f"{said} It ran {mph:.1f} scale mph." if mph is not None else said


def _place(violation: ViolationRecord, plan: Plan) -> str:
    """For an order out of turn ``at`` is a protection, and the spur stands for the foreman."""
    if violation.rule == "out-of-order" and violation.at == violation.spur:
        return f"The foreman's word for {plan.name(violation.at)}"
    return plan.name(violation.at)


def _speeds(known: Known) -> list[View]:
    """The last passes of traps, the latest first, with direction and job where those are known."""
    board, plan, layout = known.board, known.plan, known.plan.layout
    if not board.speeds:
        return []
    traps = {trap.id: trap for trap in layout.traps}
    progress = progress_of(known.jobs, known.ticks, board.work) if known.opened else {}
    jobs = {job.id: job for job in known.jobs}
    return [
        {
            "t_us": t_us,
            "at": at,
            "name": plan.name(at),
            **speed_view(traps.get(at), mph, layout.ratio),
            "toward": toward_says(plan, known.toward.get((t_us, at), "")),
            "job": jobs_at(plan, at, t_us, jobs, progress),
        }
        for t_us, at, mph in reversed(board.speeds)
    ]


def _remark(remark: RemarkRecord) -> View:
    return {"id": remark.id, "t_us": remark.t_us, "wall_us": remark.wall_us, "text": remark.text}


def _contacts(
    board: Board, plan: Plan, standing: Mapping[str, StandingRecord], *, live: bool
) -> View:
    faults: dict[str, list[str]] = {}
    for fault, at in board.faults:
        faults.setdefault(at, []).append(fault_title(fault))
    return {
        contact.name: _contact(contact, plan, standing.get(contact.name), live=live)
        | {"faults": faults.get(contact.name, [])}
        for contact in plan.layout.contacts
    }


def _contact(contact: Contact, plan: Plan, now: StandingRecord | None, *, live: bool) -> View:
    settled = now.settled if now and live else None
    return {
        "name": contact.name,
        "label": contact.name,
        "thing": contact.thing,
        **_place_on_bench(plan, contact.thing),
        "role": contact.role.value,
        "pin": pin_name(contact.pin),
        "inverted": contact.inverted,
        "raw": now.raw if now else None,
        "settled": settled,
        "says": contact_says(contact.role, plan.kind(contact.thing), settled),
        "edges": now.edges if now else 0,
    }


def _outputs(board: Board, plan: Plan, *, live: bool) -> View:
    return {
        f"{thing.id}.{output}": {
            "name": f"{thing.id}.{output}",
            "label": f"{output} of {thing.id}",
            "thing": thing.id,
            **_place_on_bench(plan, thing.id),
            "output": output,
            "pin": pin_name(wire.pin),
            "inverted": wire.inverted,
            "shows": board.outputs.get(thing.id, {}).get(output, "off") if live else "unknown",
        }
        for thing in plan.layout.things
        for output, wire in outputs_of(thing)
    }


def _place_on_bench(plan: Plan, thing: str) -> dict[str, str]:
    """Where the bench shows a thing: with its row; a key, which several rows may share, apart."""
    row = "" if plan.kind(thing) is Kind.KEY else next(iter(plan.rows_of(thing)), "")
    heading = plan.rows[row].name if row else ""
    short = short_name(plan.name(thing), heading)
    return {"row": row, "thing_name": short[:1].upper() + short[1:]}


def _spurs(layout: Layout) -> list[View]:
    return [
        {"id": spur.id, "name": spur.name, "foreman": spur.foreman.value} for spur in layout.spurs
    ]

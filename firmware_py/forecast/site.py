"""From a layout to what a forecast must know of it. Pure and light."""

from __future__ import annotations

from firmware_py.forecast.words import WORK, SpurPlan, StepPlan
from firmware_py.layout.model import FOREMAN, ForemanKind, Layout, Spur, Switch, Thing, kind_of


def spurs_of(layout: Layout) -> tuple[SpurPlan, ...]:
    """Every spur of a layout."""
    kinds = {thing.id: kind_of(thing).value for thing in layout.things}
    claims = _claims(layout)
    return tuple(
        SpurPlan(
            spur.id,
            spur.name,
            _foreman(spur),
            (spur.foreman_us[0] / 1e6, spur.foreman_us[1] / 1e6),
            claims[spur.id],
            _steps(spur, kinds),
        )
        for spur in layout.spurs
    )


def names_of(layout: Layout) -> dict[str, str]:
    """What the switches and keys that crews may wait for are called."""
    things: tuple[Thing, ...] = (*layout.switches, *layout.keys)
    return {thing.id: thing.name for thing in things}


def _foreman(spur: Spur) -> ForemanKind:
    asked = spur.foreman is not ForemanKind.NONE and FOREMAN in spur.opening
    return spur.foreman if asked else ForemanKind.NONE


def _steps(spur: Spur, kinds: dict[str, str]) -> tuple[StepPlan, ...]:
    known = {FOREMAN: FOREMAN} | kinds
    opening = [StepPlan("opening", step, known[step]) for step in spur.opening]
    closing = [StepPlan("closing", step, known[step]) for step in spur.closing]
    going_in, work = StepPlan("opening", WORK, "entry"), StepPlan("working", WORK, WORK)
    return (*opening, going_in, work, *closing)


def _claims(layout: Layout) -> dict[str, tuple[str, ...]]:
    """What only one crew can have: a spur's switch, and the keys of its switch and gates.

    A key that never goes to more spurs than the switch does adds nothing.
    """
    users: dict[str, set[str]] = {}
    for spur in layout.spurs:
        for claim in (spur.switch, *_keys(layout, spur)):
            users.setdefault(claim, set()).add(spur.id)
    switches: dict[str, Switch] = {switch.id: switch for switch in layout.switches}
    wanted = {
        claim: spurs
        for claim, spurs in users.items()
        if claim in switches or not any(spurs <= users.get(one, set()) for one in switches)
    }
    return {
        spur.id: tuple(sorted(claim for claim, spurs in wanted.items() if spur.id in spurs))
        for spur in layout.spurs
    }


def _keys(layout: Layout, spur: Spur) -> set[str]:
    owners = [one.key for one in layout.switches if one.id == spur.switch]
    owners += [gate.key for gate in layout.gates if gate.spur == spur.id]
    return {key for key in owners if key}

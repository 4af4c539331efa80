"""The violations of sections 5 and 6, rule by rule, in the order of the two tables."""

from __future__ import annotations

from collections.abc import Iterator

from .state import Event, State

# (rule, at, spur, missing)
Raised = tuple[str, str, str | None, list[str]]


def violations(state: State, event: Event) -> list[Raised]:
    """Everything that this event raises, in the order in which it is numbered."""
    if event.quiet:
        # Section 7: a chattering contact, becoming unknown and the first settling after it.
        return []
    return [*switch_violations(state, event), *spur_violations(state, event)]


def switch_violations(state: State, event: Event) -> Iterator[Raised]:
    """Go through the table of section 5."""
    plan = state.plan
    switches = plan.ids("switch")

    def points_move(switch: str) -> bool:
        """Say whether `normal` or `reverse` settles not made."""
        return event.settles(switch, "normal", False) or event.settles(switch, "reverse", False)

    for switch in switches:
        if points_move(switch) and state.locked(switch):
            yield "moved-while-locked", switch, plan.first_spur(switch), []
    for switch in switches:
        if points_move(switch) and state.made(switch, "detector"):
            yield "thrown-under-train", switch, plan.first_spur(switch), []
    for switch in switches:
        settles_locked = plan.has_padlock(switch) and event.settles(switch, "hasp", True)
        if settles_locked and state.points(switch) != "normal":
            yield "locked-off-normal", switch, plan.first_spur(switch), []
    for switch in switches:
        if event.deadline == ("gapped-points", switch):
            yield "gapped-points", switch, plan.first_spur(switch), []
    for switch in switches:
        if event.settles(switch, "detector", True) and state.points(switch) == "between":
            yield "entered-gapped-points", switch, plan.first_spur(switch), []
    for rule in ("left-lined", "left-unlocked"):
        for switch in switches:
            if event.deadline == (rule, switch):
                yield rule, switch, plan.first_spur(switch), []
    for switch in switches:
        key = plan.by_id[switch].get("key")
        opened = plan.has_padlock(switch) and event.settles(switch, "hasp", False)
        if opened and key is not None and state.made(key, "hook"):
            yield "key-on-hook", switch, plan.first_spur(switch), []
    for gate in plan.ids("gate"):
        key = plan.by_id[gate].get("key")
        if event.settles(gate, "hasp", False) and key is not None and state.made(key, "hook"):
            yield "key-on-hook", gate, plan.by_id[gate]["spur"], []


def out_of_order(state: State, event: Event, spur: str) -> Iterator[Raised]:
    """Section 6, first row: off before an earlier one is off, back before an earlier one is."""
    opening, closing = state.plan.opening[spur], state.plan.closing[spur]
    for place, protection in enumerate(opening):
        # "for the foreman, the spur"
        at = spur if protection == "foreman" else protection
        if state.came_off(event, spur, protection):
            missing = [p for p in opening[:place] if not state.off(spur, p)]
            if missing:
                yield "out-of-order", at, spur, missing
        if state.went_back(event, spur, protection):
            before = closing[: closing.index(protection)]
            missing = [p for p in before if not state.back(spur, p)]
            if missing:
                yield "out-of-order", at, spur, missing


def spur_violations(state: State, event: Event) -> Iterator[Raised]:
    """Go through the table of section 6."""
    plan = state.plan
    spurs = plan.ids("spur")

    for spur in spurs:
        yield from out_of_order(state, event, spur)
    for spur in spurs:
        switch = plan.switch_of(spur)
        moved = event.settles_either_way(spur, "detector") or (
            event.settles(switch, "detector", True) and state.points(switch) == "reverse"
        )
        displayed = state.displayed(spur)
        if moved and displayed:
            yield "moved-under-flag", displayed[0], spur, []
    for gate in plan.ids("gate"):
        if event.settles(gate, "shut", False) and state.made(gate, "hasp"):
            yield "gate-forced", gate, plan.by_id[gate]["spur"], []
    for gate in plan.ids("gate"):
        if event.settles(gate, "hasp", True) and state.not_made(gate, "shut"):
            yield "gate-locked-open", gate, plan.by_id[gate]["spur"], []
    for gate in plan.ids("gate"):
        if event.settles(gate, "detector", True) and state.made(gate, "shut"):
            yield "through-gate", gate, plan.by_id[gate]["spur"], []
    for derail in plan.ids("derail"):
        if event.settles(derail, "on", False) and state.made(derail, "hasp"):
            yield "derail-forced", derail, plan.by_id[derail]["spur"], []
    for derail in plan.ids("derail"):
        if event.settles(derail, "detector", True) and state.made(derail, "on"):
            yield "over-derail", derail, plan.by_id[derail]["spur"], []
    for spur in spurs:
        chocks = state.set_chocks(spur)
        if event.settles(spur, "detector", False) and chocks:
            yield "pulled-against-chock", chocks[0], spur, []
    for spur in spurs:
        if plan.switch_of(spur) in event.settled_normal and state.made(spur, "fouling"):
            yield "lined-behind-early", spur, spur, []
    for spur in spurs:
        if plan.switch_of(spur) in event.secured_after_spell and state.made(spur, "fouling"):
            yield "left-foul", spur, spur, []
    for spur in spurs:
        if event.deadline == ("return", spur):
            yield from not_returned(state, spur)
    for trap, _mph, too_fast in event.passes:
        if too_fast:
            yield "over-speed", trap, None, []
    for spur in spurs:
        switch = plan.switch_of(spur)
        moved = event.settles_either_way(spur, "detector") or event.settles_either_way(
            switch, "detector"
        )
        if moved and state.spurs[spur].test_until is not None:
            yield "moved-in-brake-test", spur, spur, []


def not_returned(state: State, spur: str) -> Iterator[Raised]:
    """Section 6: `not-returned` once for each protection, then `left-unchocked`."""
    plan = state.plan
    for protection in plan.closing[spur]:
        if plan.kind_of.get(protection) == "chock":
            continue
        if not state.back(spur, protection):
            yield "not-returned", spur if protection == "foreman" else protection, spur, []
    chocks = plan.of_spur("chock", spur)
    steep = float(plan.by_id[spur].get("grade_percent", 0.0)) >= plan.chock_from_percent
    occupied = state.made(spur, "detector") or not plan.has(spur, "detector")
    if steep and chocks and occupied and not state.set_chocks(spur):
        yield "left-unchocked", chocks[0], spur, []

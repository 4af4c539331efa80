"""What the lamps, bolts, relays and buzzers show (section 9), worked out from the state alone."""

from __future__ import annotations

from .state import State

# (of, output) -> shows
Shown = dict[tuple[str, str], str]


def _unacknowledged_at(state: State, switch: str) -> bool:
    """Look for an unacknowledged violation "at the switch or its spur's things"."""
    things = state.plan.things_of_switch(switch)
    return any(v.at in things and not v.acknowledged for v in state.violations)


def _fault_at(state: State, things: set[str]) -> bool:
    """Look for a fault of one of these things, or of a contact of theirs."""
    return any(at.partition(".")[0] in things for _fault, at in state.faults())


def _all_off(state: State, spur: str, protections: list[str]) -> bool:
    return all(state.off(spur, protection) for protection in protections)


def _switch_lamps(state: State, switch: str) -> dict[str, str]:
    """Green, red and white of a switch; where two columns hold, flashing goes before steady."""
    violated = _unacknowledged_at(state, switch)
    secured = state.switches[switch].stage == "secured"
    green = secured and not _fault_at(state, {switch}) and not violated
    spurs = state.plan.spurs_of(switch)
    next_here = any(state.next_step(spur) == switch for spur in spurs)
    for_the_crew = any(_all_off(state, spur, state.plan.opening[spur]) for spur in spurs)
    return {
        "green": "steady" if green else "off",
        "red": "flashing" if violated else "off" if green else "steady",
        "white": "flashing" if next_here else "steady" if for_the_crew else "off",
    }


def _bolt(state: State, switch: str) -> str:
    """Drawn when the crew may open the hasp, or has; never on a fault that has a say."""
    spurs = state.plan.spurs_of(switch)
    drawn = state.switches[switch].stage != "secured" or not spurs
    asked = {switch}
    for spur in spurs:
        opening = state.plan.opening[spur]
        before = opening[: opening.index(switch)]
        drawn = drawn or _all_off(state, spur, before)
        asked.update(before)
    return "drawn" if drawn and not _fault_at(state, asked) else "shut"


def _power(state: State, spur: str) -> str:
    """On when the way is the crew's; never where an unknown contact has a say (section 7)."""
    plan = state.plan
    switch = plan.switch_of(spur)
    says = [(switch, "normal"), (switch, "reverse")]
    if plan.has_padlock(switch):
        says.append((switch, "hasp"))
    for kind, role in (("flag", "rack"), ("chock", "rack"), ("gate", "shut"), ("derail", "on")):
        says += [(thing, role) for thing in plan.of_spur(kind, spur)]
    on = (
        state.switches[switch].stage in ("lined", "in-use")
        and _all_off(state, spur, plan.opening[spur])
        and not state.displayed(spur)
        and not any(state.unknown(thing, role) for thing, role in says)
    )
    return "on" if on else "off"


def _lamp(state: State, thing: str, spur: str) -> str:
    """Work out the lamp of a protection other than a switch."""
    if state.next_step(spur) == thing:
        return "flashing"
    return "steady" if thing in state.displayed(spur) else "off"


def shown(state: State) -> Shown:
    """Every output that the layout gives, switches first, then spurs, then the other things."""
    plan = state.plan
    found: Shown = {}
    for switch in plan.ids("switch"):
        table = plan.by_id[switch]
        lamps = _switch_lamps(state, switch)
        for colour in ("green", "red", "white"):
            if colour in table.get("lamps", {}):
                found[switch, colour] = lamps[colour]
        if "bolt" in table:
            found[switch, "bolt"] = _bolt(state, switch)
        if "buzzer" in table:
            buzzing = state.switches[switch].buzzer_until is not None
            found[switch, "buzzer"] = "on" if buzzing else "off"
    for spur in plan.ids("spur"):
        if "power" in plan.by_id[spur]:
            found[spur, "power"] = _power(state, spur)
    for kind in ("gate", "derail", "flag", "chock"):
        for thing in plan.ids(kind):
            if "lamp" in plan.by_id[thing]:
                found[thing, "lamp"] = _lamp(state, thing, plan.by_id[thing]["spur"])
    for trap in plan.ids("trap"):
        if "lamp" in plan.by_id[trap]:
            found[trap, "lamp"] = "steady" if trap in state.lit_until else "off"
    return found

"""What an event makes of switches and spurs: stages, violations in the book, phases.

Sections 4, 5 (below the table) and 8.
"""

from __future__ import annotations

from .state import BUZZ, UNLOCKED_STAGES, Event, State, Violation


def settle_stage(state: State, event: Event, switch: str) -> None:
    """Section 4: what this event makes of one switch, and what must be remembered of it."""
    memory = state.switches[switch]
    was, memory.points = memory.points, state.points(switch)
    if memory.points == "between":
        if was != "between":
            # Section 5: gapped points are counted once per spell of being between.
            memory.between_since, memory.gapped_raised = event.t, False
    else:
        memory.between_since = None
    if memory.points == "reverse" and was != "reverse":
        event.settled_reverse.add(switch)
    if memory.points == "normal" and was != "normal":
        event.settled_normal.add(switch)
    opened = state.plan.has_padlock(switch) and event.settles(switch, "hasp", False)
    if switch in event.settled_reverse or (opened and memory.points == "reverse"):
        # Lined (anew): "if the section is occupied at that instant it is in use at once"
        memory.occupied_since_lined = state.made(switch, "detector")
    elif state.made(switch, "detector"):
        memory.occupied_since_lined = True
    if opened:
        # "Opening the hasp forgets the earlier spell"
        memory.spell, memory.last_unlocked, memory.left_lined_raised = False, None, False
    stage = state.stage(switch)
    if stage != memory.stage or opened:
        memory.entered_at, memory.left_unlocked_raised = event.t, False
    if stage != memory.stage and stage == "restored":
        event.became_restored.add(switch)
    if stage != memory.stage and stage == "secured" and memory.spell:
        event.secured_after_spell.add(switch)
    memory.stage = stage
    if stage in ("lined", "in-use"):
        memory.spell = True
    if stage in UNLOCKED_STAGES:
        memory.last_unlocked = stage
    if stage == "secured":
        # Section 5: the spell runs to the switch being secured again.
        memory.spell, memory.last_unlocked, memory.left_lined_raised = False, None, False
    for spur in state.plan.spurs_of(switch):
        # Section 6, `not-returned`: became secured after a spell, "and has stayed so"
        if switch in event.secured_after_spell:
            state.spurs[spur].secured_at = event.t
        elif stage != "secured":
            state.spurs[spur].secured_at = None


def raise_violation(
    state: State, event: Event, rule: str, at: str, spur: str | None, missing: list[str]
) -> None:
    """Section 5, below the table: a new violation, or one more time of an earlier one."""
    same = [v for v in state.violations if (v.rule, v.at, v.missing) == (rule, at, missing)]
    if same:
        earlier = same[-1]
        soon = event.t - earlier.last_at <= state.plan.times["repeat_within"]
        if soon and not earlier.acknowledged:
            earlier.times += 1
            earlier.last_at = event.t
            return
    number = len(state.violations) + 1
    state.violations.append(Violation(number, rule, at, missing, event.t))
    said = {"what": "violation", "number": number, "rule": rule, "at": at, "spur": spur}
    event.say({**said, "missing": missing})
    for switch, memory in state.switches.items():
        # Section 9: the buzzer is on for two seconds at each violation there.
        if at in state.plan.things_of_switch(switch):
            memory.buzzer_until = event.t + BUZZ


def settle_phase(state: State, event: Event, spur: str) -> None:
    """Section 8: "several of these in one event go in this order"."""
    its = state.spurs[spur]
    switch = state.plan.switch_of(spur)
    came_off = any(state.came_off(event, spur, p) for p in state.plan.opening[spur])
    its.came_off = its.came_off or came_off
    # ask or coming off
    if its.phase == "idle" and (spur in event.asked or came_off):
        its.phase = "opening"
    # work-done or hand-back
    done = spur in event.work_done or spur in event.handed_back
    if its.phase in ("opening", "working") and done:
        its.phase = "closing"
    # closing -> opening
    if its.phase == "closing" and switch in event.settled_reverse:
        its.phase = "opening"
    # opening -> working
    if its.phase == "opening" and state.switches[switch].stage == "in-use":
        its.phase = "working"
    # to closing
    ended = switch in event.became_restored or switch in event.secured_after_spell
    if its.phase in ("opening", "working") and ended:
        its.phase = "closing"
    # to idle
    may_end = its.phase == "closing" or (its.phase == "opening" and its.came_off)
    if may_end and all(state.back(spur, p) for p in state.plan.closing[spur]):
        its.phase, its.came_off = "idle", False
        # "Entering idle puts the foreman back to not asked."
        its.foreman = "not-asked"

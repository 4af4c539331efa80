"""The rulebook's replay once more, slowly: a tape goes in, the printed lines come out.

Written from the rulebook alone, to be held against it line by line. After every event everything is
worked out anew from the settled values; deadlines are not stored, but computed from the memories in
`state.py` whenever the next one is wanted.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from .commands import command, press
from .effects import raise_violation, settle_phase, settle_stage
from .plan import MADE_AT_REST, SECOND, Plan, read_plan, to_us
from .rules import violations
from .shown import shown
from .state import (
    CHATTER_EDGES,
    CHATTER_WINDOW,
    QUIET,
    UNLOCKED_STAGES,
    Event,
    State,
)

Line = dict[str, Any]

# Section 10: the order of lines for one event.
ORDER = (
    "refused",
    "fault",
    "speed",
    "foreman",
    "brake-test",
    "stage",
    "violation",
    "phase",
    "output",
)

# Section 3: the order of deadlines at one instant; the ends of buzzers and of traps' lamps are not
# among the rulebook's.
DEADLINES = (
    "settling",
    "gapped-points",
    "left-lined",
    "left-unlocked",
    "return",
    "brake-test",
    "quiet",
    "buzzer",
    "trap-lamp",
)

# A trap's lamp: for so long from a pass that is a violation, or until a pass that is none.
TRAP_LIT = 10 * SECOND

# Section 11: more than this between the edges of a trap is "stopped".
STOPPED = 60 * SECOND


# Section 7: the order in which the faults stand there.
FAULTS = ("points-disputed", "chattering", "lost")


def in_fault_order(fault: tuple[str, str]) -> tuple[int, str]:
    """Faults of one event go as section 7 lists them, each kind by id."""
    return FAULTS.index(fault[0]), fault[1]


def replay(layout: dict[str, Any], lines: Iterable[Line], *, outputs: bool = False) -> list[Line]:
    """Play a tape on a valid layout and return what `replay` would print, `output` lines if asked.

    `layout` is what tomllib gives; `lines` are the lines of a tape as dicts (section 10).
    """
    return Replay(read_plan(layout), outputs).play(list(lines))


class Replay:
    """One playing of one tape."""

    def __init__(self, plan: Plan, outputs: bool = False) -> None:
        self.plan = plan
        self.outputs = outputs
        self.printed: list[Line] = []
        # Section 10: how a contact stands that is never mentioned.
        self.raw: dict[str, bool | None] = {
            name: contact.role in MADE_AT_REST for name, contact in plan.contacts.items()
        }
        self.edges: dict[str, list[int]] = {name: [] for name in plan.contacts}
        # Trap -> the contact that armed it and the raw edge that began that contact's stay.
        self.armed: dict[str, tuple[str, int]] = {}

    # The tape (section 10).

    def play(self, lines: list[Line]) -> list[Line]:
        """Lines at 0 set how things stand; then deadlines and lines take turns."""
        if not lines:
            return []
        rest: list[Line] = []
        for line in lines:
            if to_us(line["t"]) == 0 and "contact" in line:
                self.raw[line["contact"]] = line["made"]
            else:
                # "a command at t = 0 is an ordinary one, after them"
                rest.append(line)
        self.start()
        t = 0
        for line in rest:
            t = to_us(line["t"])
            # Section 3: deadlines due at or before t come before a reading or command at t.
            self.run_until(t)
            if "end" in line:
                break
            if "contact" in line:
                self.reading(t, line["contact"], line["made"])
            else:
                event = Event(t)
                command(self.state, event, line)
                self.finish(event)
        self.run_until(t)
        return self.printed

    def start(self) -> None:
        """Section 10: initial stages print nothing, and what stands at the start runs from 0."""
        self.state = state = State(self.plan, self.raw)
        for switch, memory in state.switches.items():
            memory.points = state.points(switch)
            memory.occupied_since_lined = state.made(switch, "detector")
            memory.stage = state.stage(switch)
            memory.between_since = 0 if memory.points == "between" else None
            memory.spell = memory.stage in ("lined", "in-use")
            memory.last_unlocked = memory.stage if memory.stage in UNLOCKED_STAGES else None
        self.faults = state.faults()
        self.foremen = dict.fromkeys(state.spurs, "not-asked")
        self.stages = {switch: memory.stage for switch, memory in state.switches.items()}
        self.phases: dict[str, tuple[str, str | None]] = dict.fromkeys(state.spurs, ("idle", None))
        self.shown = shown(state)

    # Deadlines (section 3).

    def run_until(self, t: int) -> None:
        """Let every deadline fire that is due at or before t, one at a time."""
        while True:
            due = min(self.deadlines(), default=None)
            if due is None or due[0] > t:
                return
            self.fire(due[0], DEADLINES[due[1]], due[2])

    def deadlines(self) -> list[tuple[int, int, str]]:
        """All deadlines as (when, place in the order at one instant, id)."""
        times, state = self.plan.times, self.state
        found: list[tuple[int, str, str]] = []
        for name, raw in self.raw.items():
            # Section 3: the raw value has stayed at the new value for the settle time.
            if raw is not None and raw != state.settled[name]:
                settle = self.plan.contacts[name].settle_time(raw)
                found.append((self.edges[name][-1] + settle, "settling", name))
        for switch, memory in state.switches.items():
            spurs = [state.spurs[spur] for spur in self.plan.spurs_of(switch)]
            if memory.between_since is not None and not memory.gapped_raised:
                found.append((memory.between_since + times["throw"], "gapped-points", switch))
            if memory.stage in ("lined", "in-use") and state.clear(switch):
                since = [memory.entered_at, memory.detector_at]
                since += [spur.detector_at for spur in spurs] + [spur.command_at for spur in spurs]
                if not memory.left_lined_raised:
                    found.append((max(since) + times["restore_within"], "left-lined", switch))
            if memory.stage in ("unlocked", "restored") and state.clear(switch):
                latest = max(memory.entered_at, memory.detector_at)
                if not memory.left_unlocked_raised:
                    found.append((latest + times["relock_within"], "left-unlocked", switch))
            if memory.buzzer_until is not None:
                found.append((memory.buzzer_until, "buzzer", switch))
        for spur, its in state.spurs.items():
            if its.secured_at is not None:
                found.append((its.secured_at + times["return_within"], "return", spur))
            if its.test_until is not None:
                found.append((its.test_until, "brake-test", spur))
        for trap, until in state.lit_until.items():
            found.append((until, "trap-lamp", trap))
        for name in state.chattering:
            found.append((self.edges[name][-1] + QUIET, "quiet", name))
        return [(when, DEADLINES.index(kind), thing) for when, kind, thing in found]

    def fire(self, t: int, kind: str, thing: str) -> None:
        """One deadline comes."""
        if kind == "settling":
            self.settle(t, thing)
            return
        event = Event(t, deadline=(kind, thing))
        if kind == "gapped-points":
            self.state.switches[thing].gapped_raised = True
        elif kind == "left-lined":
            self.state.switches[thing].left_lined_raised = True
        elif kind == "left-unlocked":
            self.state.switches[thing].left_unlocked_raised = True
        elif kind == "return":
            self.state.spurs[thing].secured_at = None
        elif kind == "brake-test":
            self.state.spurs[thing].test_until = None
            event.say({"what": "brake-test", "spur": thing, "is": "done"})
        elif kind == "quiet":
            self.state.chattering.discard(thing)
        elif kind == "buzzer":
            self.state.switches[thing].buzzer_until = None
        elif kind == "trap-lamp":
            del self.state.lit_until[thing]
        self.finish(event)

    # Readings (sections 3 and 7).

    def reading(self, t: int, name: str, made: bool | None) -> None:
        """Take a raw edge: it may start chattering; a null makes the contact unknown at once."""
        if made == self.raw[name]:
            return  # "a repeated reading of the same raw value is nothing"
        self.raw[name] = made
        self.edges[name].append(t)
        event = Event(t, quiet=True)
        recent = [edge for edge in self.edges[name] if edge > t - CHATTER_WINDOW]
        if len(recent) > CHATTER_EDGES:
            self.state.chattering.add(name)
        if made is None:
            self.state.settled[name] = None
        self.finish(event)

    def settle(self, t: int, name: str) -> None:
        """Change a contact's settled value to its raw one."""
        state = self.state
        made = self.raw[name] is True
        was_unknown = state.settled[name] is None
        event = Event(t, settled=(name, made), quiet=was_unknown or name in state.chattering)
        state.settled[name] = made
        contact = self.plan.contacts[name]
        if contact.role == "detector" and contact.thing in state.switches:
            state.switches[contact.thing].detector_at = t
        if contact.role == "detector" and contact.thing in state.spurs:
            state.spurs[contact.thing].detector_at = t
        if was_unknown:
            # Nobody saw when it became so: no speed is taken from it, and no press.
            self.disarm(name)
        elif made:
            self.traps(event, name)
        if contact.role == "button" and made and not was_unknown:
            press(self.state, event, contact.thing)
        self.finish(event)

    def disarm(self, name: str) -> None:
        """Forget what armed the traps of a detector that was unknown until now."""
        for trap in self.plan.tables["trap"]:
            if name in (trap["first"], trap["second"]):
                self.armed.pop(trap["id"], None)

    def traps(self, event: Event, name: str) -> None:
        """Section 11 [A]: one detector of the pair arms the trap, the other one reads it."""
        edge = self.edges[name][-1]
        for trap in self.plan.tables["trap"]:
            if name not in (trap["first"], trap["second"]):
                continue
            armed = self.armed.get(trap["id"])
            if armed is None or armed[0] == name:
                self.armed[trap["id"]] = (name, edge)
                continue
            between = abs(edge - armed[1])
            if between > STOPPED:
                # "the later edge arms the trap anew"
                self.armed[trap["id"]] = (name, edge)
                continue
            del self.armed[trap["id"]]
            if between == 0:
                continue  # no time, no speed
            mph = trap["distance_mm"] / (between / SECOND) * self.plan.ratio * 0.00223694
            too_fast = False
            if "limit_mph" in trap:
                too_fast = mph > trap["limit_mph"]
            elif "limit_kmh" in trap:
                too_fast = mph * 1.609344 > trap["limit_kmh"]
            event.passes.append((trap["id"], mph, too_fast))
            event.say({"what": "speed", "at": trap["id"], "mph": round(mph, 2)})

    # What an event makes of the whole (sections 4 to 9).

    def finish(self, event: Event) -> None:
        """Work out stages, violations, phases and outputs, and print what changed."""
        state = self.state
        for switch in state.switches:
            settle_stage(state, event, switch)
        raised = violations(state, event)
        for rule, at, spur, missing in raised:
            raise_violation(state, event, rule, at, spur, missing)
            # Section 8: a violation of the brake test breaks it.
            if rule == "moved-in-brake-test":
                state.spurs[at].test_until = None
                event.say({"what": "brake-test", "spur": at, "is": "broken"})
        for trap, _mph, too_fast in event.passes:
            if not event.quiet and "lamp" in self.plan.by_id[trap]:
                state.lit_until.pop(trap, None)
                if too_fast:
                    state.lit_until[trap] = event.t + TRAP_LIT
        for spur in state.spurs:
            settle_phase(state, event, spur)
        self.say_changes(event)
        event.lines.sort(key=lambda line: ORDER.index(line["what"]))
        self.printed += event.lines

    # Printing (section 10): "a line is printed only for a change".

    def say_changes(self, event: Event) -> None:
        """Print what follows from comparing what is with what was printed last."""
        state = self.state
        faults = state.faults()
        for fault, at in sorted({*faults, *self.faults}, key=in_fault_order):
            ended = (fault, at) not in faults
            if ended or (fault, at) not in self.faults:
                event.say({"what": "fault", "fault": fault, "at": at, "ended": ended})
        self.faults = faults
        for spur, its in state.spurs.items():
            if its.foreman != self.foremen[spur]:
                event.say({"what": "foreman", "spur": spur, "is": its.foreman})
            self.foremen[spur] = its.foreman
        for switch, memory in state.switches.items():
            if memory.stage != self.stages[switch]:
                event.say({"what": "stage", "switch": switch, "stage": memory.stage})
            self.stages[switch] = memory.stage
        for spur, its in state.spurs.items():
            phase = (its.phase, state.next_step(spur))
            if phase != self.phases[spur]:
                said = {"what": "phase", "spur": spur, "phase": phase[0], "next": phase[1]}
                event.say(said)
            self.phases[spur] = phase
        now_shown = shown(state) if self.outputs else {}
        for (of, output), shows in now_shown.items():
            if shows != self.shown[of, output]:
                event.say({"what": "output", "of": of, "output": output, "shows": shows})
        self.shown = now_shown

"""How things stand: settled values, and the words the rulebook defines on them.

Every word is worked out anew from the settled values each time it is asked for. A contact is True
(made), False (not made) or None (unknown, section 7). A word that needs a value ("occupied",
"clear", "displayed", "off") wants to know it: unknown is neither the one nor the other.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from .plan import SECOND, Plan

UNLOCKED_STAGES = ("unlocked", "lined", "in-use", "restored")

# Section 7: "more than 20 raw edges of that contact are later than one second ago".
CHATTER_EDGES = 20
CHATTER_WINDOW = SECOND
# Section 7: "ends after five quiet seconds".
QUIET = 5 * SECOND
# Section 9: the buzzer is on for two seconds at each violation there.
BUZZ = 2 * SECOND


@dataclass
class SwitchState:
    """What must be remembered of a switch beyond its settled values."""

    stage: str = ""
    points: str = ""
    # The last of the four unlocked stages since the hasp was opened (section 4, last row).
    last_unlocked: str | None = None
    # Section 5: a spell of being lined runs.
    spell: bool = False
    occupied_since_lined: bool = False
    # When the stage was entered, and when the detector last settled.
    entered_at: int = 0
    detector_at: int = 0
    between_since: int | None = None
    gapped_raised: bool = False
    left_lined_raised: bool = False
    left_unlocked_raised: bool = False
    buzzer_until: int | None = None


@dataclass
class SpurState:
    """What must be remembered of a spur beyond its settled values."""

    foreman: str = "not-asked"
    phase: str = "idle"
    # Section 8: at least one protection had come off since idle.
    came_off: bool = False
    command_at: int = 0
    detector_at: int = 0
    # When the switch became secured after a spell; gone once it has left that or was looked at.
    secured_at: int | None = None
    test_until: int | None = None


@dataclass
class Violation:
    """A violation as it was first raised, and when it was last seen again."""

    number: int
    rule: str
    at: str
    missing: list[str]
    last_at: int
    times: int = 1
    acknowledged: bool = False


@dataclass
class Event:
    """One settling, deadline, command or raw edge, and what it turned out to be."""

    t: int
    # The contact that settled in this event, and its new value.
    settled: tuple[str, bool] | None = None
    # Section 7: no violation is raised by a chattering contact or a first settling after unknown.
    quiet: bool = False
    deadline: tuple[str, str] | None = None
    asked: set[str] = field(default_factory=set)
    released: set[str] = field(default_factory=set)
    handed_back: set[str] = field(default_factory=set)
    work_done: set[str] = field(default_factory=set)
    # Switches whose points settled reverse, settled normal, and so on, in this event.
    settled_reverse: set[str] = field(default_factory=set)
    settled_normal: set[str] = field(default_factory=set)
    became_restored: set[str] = field(default_factory=set)
    secured_after_spell: set[str] = field(default_factory=set)
    # (trap, mph, is it faster than the limit)
    passes: list[tuple[str, float, bool]] = field(default_factory=list)
    lines: list[dict[str, Any]] = field(default_factory=list)

    def say(self, line: dict[str, Any]) -> None:
        """Add a line to what this event prints; section 10: rounded to a millisecond."""
        self.lines.append({"t": round(self.t / SECOND, 3), **line})

    def settles(self, thing: str, role: str, made: bool) -> bool:
        """Whether this event is that contact settling at that value."""
        return self.settled == (f"{thing}.{role}", made)

    def settles_either_way(self, thing: str, role: str) -> bool:
        """Whether this event is that contact settling at all."""
        return self.settles(thing, role, True) or self.settles(thing, role, False)


class State:
    """All settled values and memories, with the rulebook's words as methods."""

    def __init__(self, plan: Plan, start: dict[str, bool | None]) -> None:
        self.plan = plan
        self.settled: dict[str, bool | None] = dict(start)
        self.chattering: set[str] = set()
        self.switches = {switch: SwitchState() for switch in plan.ids("switch")}
        self.spurs = {spur: SpurState() for spur in plan.ids("spur")}
        self.violations: list[Violation] = []
        # Trap -> when its lamp goes out again.
        self.lit_until: dict[str, int] = {}

    # Contacts (section 1). An absent contact is neither made nor not made.

    def made(self, thing: str, role: str) -> bool:
        """Settled made, and known to be."""
        return self.settled.get(f"{thing}.{role}") is True

    def not_made(self, thing: str, role: str) -> bool:
        """Settled not made, and known to be."""
        return self.settled.get(f"{thing}.{role}") is False

    def unknown(self, thing: str, role: str) -> bool:
        """Section 7: the contact is there and it is not known how it stands."""
        return self.plan.has(thing, role) and self.settled[f"{thing}.{role}"] is None

    def clear(self, thing: str) -> bool:
        """Section 1: where a detector is absent, its section counts as clear. Unknown: never."""
        return not self.plan.has(thing, "detector") or self.not_made(thing, "detector")

    # Switches (section 4).

    def locked(self, switch: str) -> bool:
        """Ask whether the hasp is made; a switch without a padlock is never locked."""
        return self.plan.has_padlock(switch) and self.made(switch, "hasp")

    def points(self, switch: str) -> str:
        """Say normal, reverse, between, disputed; or unknown where a contact of the two is."""
        if self.unknown(switch, "normal") or self.unknown(switch, "reverse"):
            return "unknown"
        normal, reverse = self.made(switch, "normal"), self.made(switch, "reverse")
        if normal and reverse:
            return "disputed"
        if normal:
            return "normal"
        return "reverse" if reverse else "between"

    def stage(self, switch: str) -> str:
        """Look up the table of section 4; unknown points go by the row of between and disputed."""
        memory = self.switches[switch]
        points = self.points(switch)
        if not self.plan.has_padlock(switch):
            # "secured when normal, lined / in-use when reverse, and keeps its stage in between"
            if points == "normal":
                return "secured"
            if points == "reverse":
                return "in-use" if memory.occupied_since_lined else "lined"
            return memory.stage or "lined"
        if self.locked(switch):
            return "secured" if points == "normal" else "irregular"
        if points == "reverse":
            return "in-use" if memory.occupied_since_lined else "lined"
        if points == "normal":
            return "restored" if memory.spell else "unlocked"
        return memory.last_unlocked or "unlocked"

    # Protections (section 6, the table of off and on).

    def off(self, spur: str, protection: str) -> bool:
        """Section 6, column "is off while"."""
        if protection == "foreman":
            return self.spurs[spur].foreman == "released"
        kind = self.plan.kind_of[protection]
        if kind == "switch":
            return self.points(protection) == "reverse" and not self.locked(protection)
        if kind == "gate":
            return self.not_made(protection, "shut")
        if kind == "derail":
            return self.not_made(protection, "on")
        return self.made(protection, "rack")

    def back(self, spur: str, protection: str) -> bool:
        """Section 6, column "is back while". Section 7: with an unknown contact, never."""
        if protection == "foreman":
            return self.spurs[spur].foreman != "released"
        kind = self.plan.kind_of[protection]
        if kind == "switch":
            # A switch without a padlock keeps its stage on unknown points, but is never back then.
            known = self.points(protection) != "unknown"
            return self.switches[protection].stage == "secured" and known
        if kind == "gate":
            has_hasp = self.plan.has(protection, "hasp")
            return self.made(protection, "shut") and (not has_hasp or self.made(protection, "hasp"))
        if kind == "derail":
            return self.made(protection, "on")
        if kind == "chock" and self.made(protection, "rack"):
            # "A chock with no spur detector is back only while set."
            return self.not_made(spur, "detector")
        return self.not_made(protection, "rack")

    def came_off(self, event: Event, spur: str, protection: str) -> bool:
        """Section 6, column "comes off when"."""
        if protection == "foreman":
            return spur in event.released
        kind = self.plan.kind_of[protection]
        if kind == "switch":
            if self.plan.has_padlock(protection):
                return event.settles(protection, "hasp", False)
            return protection in event.settled_reverse
        if kind == "gate":
            role = "hasp" if self.plan.has(protection, "hasp") else "shut"
            return event.settles(protection, role, False)
        if kind == "derail":
            return event.settles(protection, "on", False)
        return event.settles(protection, "rack", True)

    def went_back(self, event: Event, spur: str, protection: str) -> bool:
        """Section 6, column "goes back when"."""
        if protection == "foreman":
            return spur in event.handed_back
        kind = self.plan.kind_of[protection]
        if kind == "switch":
            return protection in event.secured_after_spell
        if kind == "gate":
            if self.plan.has(protection, "hasp"):
                return event.settles(protection, "hasp", True) and self.made(protection, "shut")
            return event.settles(protection, "shut", True)
        if kind == "derail":
            return event.settles(protection, "on", True)
        return event.settles(protection, "rack", False)

    def displayed(self, spur: str) -> list[str]:
        """List the displayed flags of a spur, in file order."""
        return [flag for flag in self.plan.of_spur("flag", spur) if self.not_made(flag, "rack")]

    def set_chocks(self, spur: str) -> list[str]:
        """List the set chocks of a spur, in file order."""
        return [chock for chock in self.plan.of_spur("chock", spur) if self.not_made(chock, "rack")]

    # The next step (section 8).

    def next_step(self, spur: str) -> str | None:
        """Find what the crew is to do next: a protection, the foreman, the work, or nothing."""
        phase = self.spurs[spur].phase
        if phase == "opening":
            for protection in self.plan.opening[spur]:
                if not self.off(spur, protection):
                    return protection
            return "work"
        if phase == "closing":
            for protection in self.plan.closing[spur]:
                if not self.back(spur, protection):
                    return protection
            return None
        return "work" if phase == "working" else None

    # Faults (section 7).

    def faults(self) -> list[tuple[str, str]]:
        """All faults that stand now, in the order of section 7, each kind by id."""
        disputed = sorted(s for s in self.switches if self.points(s) == "disputed")
        lost = sorted(name for name, value in self.settled.items() if value is None)
        return (
            [("points-disputed", switch) for switch in disputed]
            + [("chattering", name) for name in sorted(self.chattering)]
            + [("lost", name) for name in lost]
        )

"""A watchman for the core: keeps his own books from the entries and says what must hold.

He knows the layout, the settled contacts and the entries; what outputs must show he works out
from rulebook section 9 anew, not from anything the core keeps.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from unittest.mock import patch

from firmware_py.core import core as core_module
from firmware_py.core.core import Core
from firmware_py.core.entries import (
    Entry,
    FaultEntry,
    ForemanEntry,
    OutputEntry,
    PhaseEntry,
    SpeedEntry,
    StageEntry,
    Violation,
    What,
)
from firmware_py.core.event import Event
from firmware_py.core.names import Fault, Rule
from firmware_py.layout.model import (
    Chock,
    Derail,
    Flag,
    Gate,
    Layout,
    Spur,
    Switch,
    Trap,
    outputs_of,
)
from firmware_py.tape.lines import what_of

KINDS = list(What)
RULES = list(Rule)
BUZZ_US = 2_000_000
LIT_US = 10_000_000


class OrderlyEvent(Event):
    """An event that minds the order of its entries as it closes (sections 5 and 10)."""

    __slots__ = ()

    def close(self) -> None:
        """Close as ever, then look at what this one event brought."""
        before = len(self.entries)
        super().close()
        entries = self.entries[before:]
        kinds = [KINDS.index(what_of(entry)) for entry in entries]
        assert kinds == sorted(kinds), entries
        rules = [RULES.index(entry.rule) for entry in entries if isinstance(entry, Violation)]
        assert rules == sorted(rules), entries


@contextmanager
def orderly() -> Iterator[None]:
    """Cores made within mind the order of each event's entries."""
    with patch.object(core_module, "Event", OrderlyEvent):
        yield


class Watchman:
    """What the entries so far amount to; ``check`` holds the core against it."""

    def __init__(self, layout: Layout, core: Core) -> None:
        self.layout = layout
        self.core = core
        self.last_us = 0
        self.count = 0
        self.open: dict[int, str | None] = {}
        """The switch of each violation that nobody has acknowledged."""
        self.buzz_until: dict[str, int] = {}
        self.lit_until: dict[str, int | None] = {}
        """When a trap's lamp goes out; ``None``: a chattering detector had a say."""
        self.faults = self._faults_at_first()
        self.outputs = {key: shows.value for key, shows in core.outputs().items()}
        self.stages = {key: stage.value for key, stage in core.stages().items()}
        self.phases = {key: (p.value, step) for key, (p, step) in core.phases().items()}
        self.foremen = {key: says.value for key, says in core.foremen().items()}
        self.switch_of = {spur.id: spur.switch for spur in layout.spurs}
        self.switch_of |= {switch.id: switch.id for switch in layout.switches}
        protections: list[Gate | Derail | Flag | Chock] = [*layout.gates, *layout.derails]
        protections += [*layout.flags, *layout.chocks]
        for thing in protections:
            self.switch_of[thing.id] = self.switch_of[thing.spur]

    def _faults_at_first(self) -> set[tuple[str, str]]:
        settled = self.core.settled()
        found = {("lost", name) for name, made in settled.items() if made is None}
        for switch in self.layout.switches:
            if settled[switch.normal.name] and settled[switch.reverse.name]:
                found.add(("points-disputed", switch.id))
        return found

    # Keeping the books.

    def hear(self, entries: Iterable[Entry]) -> None:
        """Write down entries as they come."""
        for entry in entries:
            assert self.last_us <= entry.t_us <= self.core.now_us, "the time of entries fell"
            self.last_us = entry.t_us
            match entry:
                case FaultEntry(fault=fault, at=at, ended=True):
                    self.faults.remove((fault.value, at))
                case FaultEntry(fault=fault, at=at):
                    assert (fault.value, at) not in self.faults
                    self.faults.add((fault.value, at))
                case ForemanEntry():
                    self.foremen[entry.spur] = entry.foreman.value
                case SpeedEntry():
                    self._passed(entry)
                case StageEntry():
                    assert self.stages[entry.switch] != entry.stage.value
                    self.stages[entry.switch] = entry.stage.value
                case Violation():
                    self._violation(entry)
                case PhaseEntry():
                    phase = (entry.phase.value, entry.next_step)
                    assert self.phases[entry.spur] != phase
                    self.phases[entry.spur] = phase
                case OutputEntry():
                    assert self.outputs[entry.of, entry.output] != entry.shows.value
                    self.outputs[entry.of, entry.output] = entry.shows.value
                case _:
                    pass

    def _passed(self, entry: SpeedEntry) -> None:
        [trap] = [trap for trap in self.layout.traps if trap.id == entry.at]
        ends = (trap.first, trap.second)
        if any(fault == "chattering" and at in ends for fault, at in self.faults):
            self.lit_until[trap.id] = None
        else:
            over = trap.limit_mph is not None and entry.mph > trap.limit_mph
            self.lit_until[trap.id] = entry.t_us + LIT_US if over else 0

    def _violation(self, entry: Violation) -> None:
        self.count += 1
        assert entry.number == self.count, "violations are not numbered one by one"
        switch = self.switch_of.get(entry.at)
        self.open[entry.number] = switch
        if switch is not None:
            self.buzz_until[switch] = entry.t_us + BUZZ_US

    def acknowledged(self, number: int) -> None:
        """An acknowledgement was accepted."""
        del self.open[number]

    # What must hold.

    def check(self) -> None:
        """Hold the core against the books."""
        core = self.core
        deadline = core.deadline_us
        assert deadline is None or deadline >= core.now_us, "a deadline lies in the past"
        assert self.stages == core.stages()
        assert self.phases == core.phases()
        assert self.foremen == core.foremen()
        shown = {key: shows.value for key, shows in core.outputs().items()}
        assert self.outputs == shown
        faults = [(Fault(fault), at) for fault, at in self.faults]
        assert sorted(faults) == sorted(core.faults())
        assert shown == self.expected()

    def expected(self) -> dict[tuple[str, str], str]:
        """What every fitted output must show by rulebook section 9."""
        self.settled = self.core.settled()
        found: dict[tuple[str, str], str] = {}
        for thing in self.layout.things:
            for output, _ in outputs_of(thing):
                if isinstance(thing, Switch):
                    found[thing.id, output] = self._at_switch(thing, output)
                elif isinstance(thing, Spur):
                    found[thing.id, output] = "on" if self._powered(thing) else "off"
                elif isinstance(thing, Trap):
                    found[thing.id, output] = self._told(thing)
                else:
                    is_flag = isinstance(thing, Flag)
                    found[thing.id, output] = self._lamp(thing.id, is_flag=is_flag)
        return found

    def _at_switch(self, switch: Switch, output: str) -> str:
        secured = self.stages[switch.id] == "secured"
        safe = secured and not self._fault_at([switch.id])
        broken = switch.id in self.open.values()
        spurs = [spur for spur in self.layout.spurs if spur.switch == switch.id]
        match output:
            case "green":
                return "steady" if safe and not broken else "off"
            case "red":
                return "flashing" if broken else "off" if safe else "steady"
            case "white":
                if any(self.phases[spur.id][1] == switch.id for spur in spurs):
                    return "flashing"
                return "steady" if any(self._all_off(s, s.opening) for s in spurs) else "off"
            case "buzzer":
                buzzes = self.core.now_us < self.buzz_until.get(switch.id, 0)
                return "on" if buzzes else "off"
        before = {spur.id: spur.opening[: spur.opening.index(switch.id)] for spur in spurs}
        may = any(self._all_off(spur, before[spur.id]) for spur in spurs)
        a_say = [switch.id, *(step for steps in before.values() for step in steps)]
        drawn = (may or not secured or not spurs) and not self._fault_at(a_say)
        return "drawn" if drawn else "shut"

    def _powered(self, spur: Spur) -> bool:
        """Power wants every contact that has a say known, one by one."""
        switch = next(item for item in self.layout.switches if item.id == spur.switch)
        has_say = [switch.normal, switch.reverse, *([switch.hasp] if switch.hasp else [])]
        known = all(self.settled[contact.name] is not None for contact in has_say)
        lined = self.stages[switch.id] in ("lined", "in-use")
        return known and lined and self._all_off(spur, spur.opening)

    def _told(self, trap: Trap) -> str:
        until = self.lit_until.get(trap.id, 0)
        if until is None:
            return self.core.outputs()[trap.id, "lamp"].value
        return "steady" if self.core.now_us < until else "off"

    def _lamp(self, thing: str, *, is_flag: bool) -> str:
        if any(step == thing for _, step in self.phases.values()):
            return "flashing"
        return "steady" if is_flag and self.settled[f"{thing}.rack"] is False else "off"

    def _fault_at(self, things: Sequence[str]) -> bool:
        return any(at.partition(".")[0] in things for _, at in self.faults)

    def _all_off(self, spur: Spur, steps: Sequence[str]) -> bool:
        return all(self._off(spur, step) for step in steps)

    def _off(self, spur: Spur, step: str) -> bool:
        """The table of section 6; a contact that the layout lacks is nowhere near made."""
        settled = self.settled
        if step == "foreman":
            return self.foremen[spur.id] == "released"
        if step == spur.switch:
            lies = settled[f"{step}.reverse"] is True and settled[f"{step}.normal"] is False
            return lies and settled.get(f"{step}.hasp") is not True
        if f"{step}.rack" in settled:
            return settled[f"{step}.rack"] is True
        bar = f"{step}.shut" if f"{step}.shut" in settled else f"{step}.on"
        return settled[bar] is False

"""Which rules can never speak on a layout, because the contact they listen to is not fitted."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from firmware_py.layout.model import Derail, Gate, Layout, Spur, Switch, Trap


@dataclass(frozen=True, slots=True)
class Silent:
    """Rules that are silent for one thing, and what is missing there."""

    thing: str
    rules: tuple[str, ...]
    why: str


def silent_rules(layout: Layout) -> tuple[Silent, ...]:
    """Every rule that is silent for something, thing by thing in file order."""
    switches = {switch.id: switch for switch in layout.switches}
    return (
        *(silent for switch in layout.switches for silent in _of_switch(switch)),
        *(
            silent
            for spur in layout.spurs
            for silent in _of_spur(layout, spur, switches[spur.switch])
        ),
        *(silent for gate in layout.gates for silent in _of_gate(gate)),
        *(silent for derail in layout.derails for silent in _of_derail(derail)),
        *(silent for trap in layout.traps for silent in _of_trap(trap)),
    )


def _of_switch(switch: Switch) -> Iterator[Silent]:
    if switch.hasp is None:
        rules = ("moved-while-locked", "locked-off-normal", "left-unlocked", "key-on-hook")
        yield Silent(switch.id, rules, "no hasp")
    elif switch.key is None:
        yield Silent(switch.id, ("key-on-hook",), "no key")
    if switch.detector is None:
        yield Silent(switch.id, ("thrown-under-train", "entered-gapped-points"), "no detector")


def _of_spur(layout: Layout, spur: Spur, switch: Switch) -> Iterator[Silent]:
    flagged = any(flag.spur == spur.id for flag in layout.flags)
    chocked = any(chock.spur == spur.id for chock in layout.chocks)
    if spur.detector is None and switch.detector is None:
        rules = (*(("moved-under-flag",) if flagged else ()), "moved-in-brake-test")
        yield Silent(spur.id, rules, "no detector here or at its switch")
    if spur.detector is None and chocked:
        yield Silent(spur.id, ("pulled-against-chock",), "no detector")
    if spur.fouling is None:
        yield Silent(spur.id, ("lined-behind-early", "left-foul"), "no fouling contact")
    if not chocked and spur.grade_percent >= layout.chock_from_percent:
        yield Silent(
            spur.id, ("left-unchocked",), f"a grade of {spur.grade_percent:g} % and no chock"
        )


def _of_gate(gate: Gate) -> Iterator[Silent]:
    if gate.hasp is None:
        yield Silent(gate.id, ("gate-forced", "gate-locked-open", "key-on-hook"), "no hasp")
    elif gate.key is None:
        yield Silent(gate.id, ("key-on-hook",), "no key")
    if gate.detector is None:
        yield Silent(gate.id, ("through-gate",), "no detector")


def _of_derail(derail: Derail) -> Iterator[Silent]:
    if derail.hasp is None:
        yield Silent(derail.id, ("derail-forced",), "no hasp")
    if derail.detector is None:
        yield Silent(derail.id, ("over-derail",), "no detector")


def _of_trap(trap: Trap) -> Iterator[Silent]:
    if trap.limit_mph is None:
        yield Silent(trap.id, ("over-speed",), "no limit")

"""A layout taken apart into what can be proven by itself: a switch with all behind it.

Two switches share nothing but keys. A hook is free to be read either way at any time, and
nothing that the core does has a say in it; so what two stands can reach together is what each
can reach alone, wherever they agree about the hook. Fragments that are the same but for their
names are proven once: no rule asks what a thing is called, and deadlines of one instant, which
names put in order, are looked at in every order.
"""

from __future__ import annotations

from dataclasses import replace
from hashlib import sha256

from firmware_py.layout.model import Layout, Switch


def fragments(layout: Layout) -> list[Layout]:
    """One layout for each switch, in file order."""
    return [_fragment(layout, switch) for switch in layout.switches]


def _fragment(layout: Layout, switch: Switch) -> Layout:
    spurs = tuple(spur for spur in layout.spurs if spur.switch == switch.id)
    mine = {spur.id for spur in spurs}
    gates = tuple(gate for gate in layout.gates if gate.spur in mine)
    used = {switch.key, *(gate.key for gate in gates)}
    return replace(
        layout,
        switches=(switch,),
        spurs=spurs,
        gates=gates,
        derails=tuple(item for item in layout.derails if item.spur in mine),
        flags=tuple(item for item in layout.flags if item.spur in mine),
        chocks=tuple(item for item in layout.chocks if item.spur in mine),
        keys=tuple(key for key in layout.keys if key.id in used),
        traps=(),
    )


def likeness(fragment: Layout) -> str:
    """A digest that is the same for fragments that differ in names, titles and pins alone."""
    ids = {thing.id: f"thing-{place}" for place, thing in enumerate(fragment.things)}
    facts: list[object] = [fragment.times, fragment.clock_ratio]
    for thing in fragment.things:
        facts.append(type(thing).__name__)
        facts += [(c.role, c.settle_us, c.clear_us) for c in thing.contacts]
        for key in ("spur", "switch", "key"):
            facts.append(ids.get(getattr(thing, key, None) or ""))
        for key in ("lamps", "bolt", "buzzer", "power", "lamp"):
            facts.append(_fitted(getattr(thing, key, None)))
        for key in ("opening", "closing"):
            facts.append([ids.get(step, step) for step in getattr(thing, key, ())])
        facts.append(getattr(thing, "foreman", None) is not None and str(thing.foreman) != "none")  # type: ignore[union-attr]
        grade = getattr(thing, "grade_percent", None)
        facts.append(grade is not None and grade >= fragment.chock_from_percent)
    return sha256(repr(facts).encode()).hexdigest()


def _fitted(wires: object) -> object:
    if wires is None:
        return False
    parts = [getattr(wires, name, None) for name in ("green", "red", "white")]
    return [part is not None for part in parts] if hasattr(wires, "green") else True

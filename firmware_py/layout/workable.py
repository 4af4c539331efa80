"""Whether a layout's orders can be worked at all: who lies behind which gate, and whose key where.

A flag, chock, derail, gate or key may say that it lies ``behind`` a gate: hands reach it only
while that gate is open. Padlocks snap shut, so a key is needed to open one and not to close it.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from firmware_py.layout.model import Gate, Key, Layout, Spur, Switch, Thing


@dataclass(frozen=True, slots=True)
class Unworkable:
    """What can't be worked: the thing and the key of its table that says so, and why."""

    thing: str
    key: str
    why: str


def unworkable(layout: Layout) -> Iterator[Unworkable]:
    """The shortest reason for each spur that can't be worked, and for gates that never open."""
    things = {thing.id: thing for thing in layout.things}
    nested = list(_nested(things))
    yield from nested
    if nested:
        return
    waits: dict[str, list[tuple[str, str]]] = {}
    for spur in layout.spurs:
        found = next(_opening(spur, things, waits), None) or next(_closing(spur, things), None)
        if found is not None:
            yield found
    yield from _rings(waits)


def _nested(things: Mapping[str, Thing]) -> Iterator[Unworkable]:
    for gate in things.values():
        seen, at = [gate.id], _behind(gate)
        while at is not None and at not in seen:
            seen.append(at)
            at = _behind(things[at])
        if isinstance(gate, Gate) and at == gate.id and gate.id == min(seen):
            yield Unworkable(gate.id, "behind", _ring_of_gates(seen))


def _ring_of_gates(gates: list[str]) -> str:
    if len(gates) == 1:
        return "it can't lie behind itself; name the gate in front of it"
    return f"the gates {_listed(gates)} lie behind each other, so none can be opened first"


def _opening(
    spur: Spur, things: Mapping[str, Thing], waits: dict[str, list[tuple[str, str]]]
) -> Iterator[Unworkable]:
    done: set[str] = set()
    for step in spur.opening:
        thing = things.get(step)
        if thing is not None:
            for gate, what in _needs(thing, things):
                owner = things[gate]
                if isinstance(owner, Gate) and owner.spur != spur.id:
                    waits.setdefault(spur.id, []).append((owner.spur, what))
                elif gate not in done:
                    yield Unworkable(spur.id, "opening", _too_late(what, step, gate))
        done.add(step)


def _needs(thing: Thing, things: Mapping[str, Thing]) -> Iterator[tuple[str, str]]:
    """The gates that must be open before a thing can be taken off, each with what is behind it."""
    gate = _behind(thing)
    if gate is not None:
        yield gate, f'"{thing.id}"'
    key = things.get((thing.key or "") if isinstance(thing, Switch | Gate) else "")
    if isinstance(key, Key) and key.behind is not None:
        yield key.behind, f'"{key.id}", the key of "{thing.id}",'


def _too_late(what: str, step: str, gate: str) -> str:
    if gate == step:
        return f"{what} lies behind it: it would be needed to fetch itself; hang it elsewhere"
    return f'{what} lies behind "{gate}", which comes off only after "{step}"; put "{gate}" first'


def _closing(spur: Spur, things: Mapping[str, Thing]) -> Iterator[Unworkable]:
    shut: set[str] = set()
    for step in spur.closing:
        gate = _behind(things[step]) if step in things else None
        if gate in shut:
            why = f'"{step}" lies behind "{gate}", which goes back before it; put "{step}" first'
            yield Unworkable(spur.id, "closing", why)
        shut.add(step)


def _rings(waits: Mapping[str, list[tuple[str, str]]]) -> Iterator[Unworkable]:
    """The shortest ring of spurs that wait for each other, once."""
    rings = [ring for spur in waits if (ring := _ring_from(spur, waits))]
    if rings:
        ring = min(rings, key=len)
        words = [f'"{spur}" waits for {what} behind a gate of "{on}"' for spur, what, on in ring]
        why = f"{' and '.join(words)}; hang one of the keys in the open"
        yield Unworkable(ring[0][0], "opening", why)


def _ring_from(
    start: str, waits: Mapping[str, list[tuple[str, str]]]
) -> list[tuple[str, str, str]] | None:
    todo: deque[tuple[str, list[tuple[str, str, str]]]] = deque([(start, [])])
    seen: set[str] = set()
    while todo:
        spur, way = todo.popleft()
        for other, what in waits.get(spur, ()):
            longer = [*way, (spur, what.rstrip(","), other)]
            if other == start:
                return longer
            if other not in seen:
                seen.add(other)
                todo.append((other, longer))
    return None


def _behind(thing: Thing) -> str | None:
    return getattr(thing, "behind", None)


def _listed(names: list[str]) -> str:
    return ", ".join(f'"{name}"' for name in names)

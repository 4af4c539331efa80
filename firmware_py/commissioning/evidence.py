"""Keeping what was seen: adding a look, and forgetting what a repair has made stale."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping

import msgspec

from firmware_py.commissioning.model import Burst, Evidence, Look
from firmware_py.commissioning.wires import Wires


def put_look(looks: list[Look], made: Iterable[str], levels: Mapping[str, bool]) -> None:
    """Add a look in place of an earlier one at the same; the one with nothing made is first."""
    look = Look(sorted(made), dict(levels))
    looks[:] = [one for one in looks if one.made != look.made]
    if look.made:
        looks.append(look)
    else:
        looks.insert(0, look)


def seen(looks: Iterable[Look], made: Iterable[str]) -> bool:
    """Whether there is a look with just these made."""
    wanted = sorted(made)
    return any(look.made == wanted for look in looks)


def forget(evidence: Evidence, names: Collection[str]) -> None:
    """Forget all about these wires, so that they are tested anew."""
    for looks in (evidence.looks, evidence.lights):
        looks[:] = [look for look in looks if not set(look.made) & set(names)]
        for look in looks:
            look.levels = {name: made for name, made in look.levels.items() if name not in names}
    for kept in (evidence.tested, evidence.skipped, evidence.lost):
        kept[:] = [name for name in kept if name not in names]
    evidence.heard = {name: edges for name, edges in evidence.heard.items() if name not in names}
    evidence.bursts = [
        burst for burst in evidence.bursts if not {burst.source, burst.sensor} & set(names)
    ]
    evidence.moves = {name: times for name, times in evidence.moves.items() if name not in names}


def bursts_of(evidence: Evidence, source: str, sensors: Collection[str]) -> list[Burst]:
    """How these sensors took the moves of a source, in order."""
    return [one for one in evidence.bursts if one.source == source and one.sensor in sensors]


def fitted(evidence: Evidence, wires: Wires) -> Evidence:
    """A copy that fits the layout as it is now: wires that moved, came or went are forgotten."""
    copy = msgspec.json.decode(msgspec.json.encode(evidence), type=Evidence)
    now = pins_now(wires)
    forget(copy, {name for name in (*now, *copy.pins) if copy.pins.get(name) != now.get(name)})
    copy.pins = now
    return copy


def pins_now(wires: Wires) -> dict[str, str]:
    """Where each wire ends by the layout, and whether it is inverted, for :func:`fitted`."""
    every = (*wires.contacts.values(), *wires.outputs.values())
    return {wire.name: wire.pin + (", inverted" if wire.inverted else "") for wire in every}

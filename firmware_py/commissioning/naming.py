"""What was found, in words: which wires, what is wrong with them, and what to do."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from firmware_py.commissioning.evidence import bursts_of
from firmware_py.commissioning.model import Evidence, Finding, Kind, Wire
from firmware_py.commissioning.planning import Planner
from firmware_py.commissioning.solving import Picture
from firmware_py.commissioning.wires import Wires

STEP_US = 10_000
"""Proposed settle times are whole tens of milliseconds."""

LONGEST_SETTLE_US = 500_000
"""A contact that bounces for longer than this would need is to be mended."""


def findings_of(planner: Planner) -> tuple[Finding, ...]:
    """All findings: of the contacts' wires first, then of the outputs'."""
    wires, evidence = planner.wires, planner.evidence
    contacts, noisy = planner.contacts(), planner.noisy()
    return (
        *_wiring(contacts, wires.contacts, _CONTACTS),
        *_noisy(contacts, noisy),
        *_bouncing(contacts, evidence, wires, noisy),
        *(_lost(name) for name in wires.contacts if name in evidence.lost),
        *_wiring(planner.outputs(), wires.outputs, _OUTPUTS),
    )


def settle_for(longest_us: int) -> int:
    """The settle time for a bounce that long: twice that, in whole tens of milliseconds."""
    return max(-(-2 * longest_us // STEP_US) * STEP_US, STEP_US)


_CONTACTS = {
    Kind.INVERTED: (
        "{0} is inverted: it reads made while it is not",
        "turn the wires on its switch (common to normally open), or change its 'inverted'",
    ),
    Kind.DEAD: (
        "{0} is dead: its circuit never closed",
        "look for an open wire, joint or contact, or a wire that ends at no contact's pin",
    ),
    Kind.STUCK: (
        "{0} is stuck: its circuit never opened",
        "look for a short to ground along its wire, or a contact that does not open",
    ),
    Kind.TOGETHER: (
        "{names} move together: their wires touch",
        "look for a bridge of solder or bare wire between them",
    ),
    Kind.SWAPPED: (
        "{names} are swapped: {ways}",
        "change the wires over at their pins, or the pins in the layout file",
    ),
    Kind.ELSEWHERE: (
        "{0} is elsewhere: {way}; {there}",
        "{then}",
    ),
    Kind.UNCLEAR: (
        "{0} is unclear: it moved when nobody was asked to move it, or not each time",
        "see that nobody else moves anything, and repeat its stand",
    ),
}
_OUTPUTS = {
    Kind.INVERTED: (
        "{0} is inverted: it is on while it is not driven",
        "turn its driver about, or change its 'inverted'",
    ),
    Kind.DEAD: (
        "{0} is dead: it never came on",
        "look for an open wire or joint, a lamp the wrong way round, or its supply",
    ),
    Kind.STUCK: (
        "{0} is stuck: it never went off",
        "look for a short along its wire, or a driver that has failed",
    ),
    Kind.TOGETHER: (
        "{names} come on together: their wires touch",
        "look for a bridge of solder or bare wire between them",
    ),
    Kind.SWAPPED: _CONTACTS[Kind.SWAPPED],
    Kind.ELSEWHERE: (
        "{0} is elsewhere: {way}; {there}",
        "{then}",
    ),
    Kind.UNCLEAR: (
        "{0} is unclear: it was on when it was not asked for, or not each time",
        "repeat its stand",
    ),
}
_Texts = dict[Kind, tuple[str, str]]


def _wiring(picture: Picture, wires: dict[str, Wire], texts: _Texts) -> Iterator[Finding]:
    for names in picture.rounds:
        pairs = zip(names, (*names[1:], names[0]), strict=True)
        ways = [_way(*pair, wires, lit=texts is _OUTPUTS) for pair in pairs]
        yield _finding(Kind.SWAPPED, names, texts, ways="; ".join(ways))
    for name, at in picture.strays:
        way = _way(name, at, wires, lit=texts is _OUTPUTS)
        there, then = _stray(wires[name], wires[at], tested=at in picture.seen_at)
        yield _finding(Kind.ELSEWHERE, (name, at), texts, way=way, there=there, then=then)
    for kind, found in (
        (Kind.INVERTED, picture.inverted),
        (Kind.DEAD, picture.dead),
        (Kind.STUCK, picture.stuck),
        (Kind.UNCLEAR, picture.unclear),
    ):
        for name in found:
            yield _finding(kind, (name,), texts)
    for names in picture.joined:
        yield _finding(Kind.TOGETHER, names, texts)


def _stray(one: Wire, other: Wire, *, tested: bool) -> tuple[str, str]:
    """What is at the pin where a wire should not be, and what to do."""
    if tested:
        return f"{other.name} ends there too", f"put the wire of {one.name} on its own pin"
    return f"{other.name} was not tested", f"test {other.name} as well, then this one again"


def _finding(kind: Kind, names: tuple[str, ...], texts: _Texts, **more: str) -> Finding:
    text, do = texts[kind]
    words = {"names": _listed(names), **more}
    return Finding(kind, names, text.format(*names, **words), do.format(*names, **words))


def _way(one: str, other: str, wires: dict[str, Wire], *, lit: bool) -> str:
    """Where a wire ends: what a contact moves, or (``lit``) what lights when ``one`` is driven."""
    wire, at = (other, one) if lit else (one, other)
    return f"the wire of {wire} ends at {_pin(wires[at])}"


def _pin(wire: Wire) -> str:
    """The pin of a wire, by the wire's name too; one without a pin by that alone."""
    return f"the pin of {wire.name}" + (f" ({wire.pin})" if wire.placed else "")


def _noisy(picture: Picture, noisy: Sequence[str]) -> Iterator[Finding]:
    told: set[str] = set()
    for at in noisy:
        name = picture.lead_at.get(at, at)
        if name in told:
            continue
        # What is joined hears the same noise: one finding for all of it.
        told.update(*(group for group in picture.joined if name in group), {name})
        yield Finding(
            Kind.NOISY,
            (name,),
            f"{name} is noisy: it changes while nobody touches it",
            "twist its leads, keep them from track feeders, and filter them at the pin",
        )


def _bouncing(
    picture: Picture, evidence: Evidence, wires: Wires, noisy: Sequence[str]
) -> Iterator[Finding]:
    for name, settle_us in wires.settles.items():
        at = picture.seen_at.get(name, [])
        bursts = [burst.us for burst in bursts_of(evidence, name, at)]
        if not bursts:
            continue
        # Noise lengthens some bursts, but hardly every one of many.
        longest_us = min(bursts) if {*at} & {*noisy} else max(bursts)
        if 2 * longest_us <= settle_us:
            continue
        proposed = settle_for(longest_us)
        longest = f"{longest_us / 1000:.1f} ms"
        mend = proposed > LONGEST_SETTLE_US
        yield Finding(
            Kind.BOUNCING,
            (name,),
            f"{name} bounces for {longest}: too long for its settle time "
            f"of {settle_us / 1000:g} ms",
            "mend or replace it; no settle time helps"
            if mend
            else f"give it settle = {proposed / 1_000_000:g} in the layout file, or mend it",
            longest_us,
            None if mend else proposed,
        )


def _lost(name: str) -> Finding:
    return Finding(
        Kind.LOST,
        (name,),
        f"{name} is lost: its chip did not answer",
        "look at the chip's cable, supply and address",
    )


def _listed(names: Sequence[str]) -> str:
    return f"{', '.join(names[:-1])} and {names[-1]}" if len(names) > 1 else "".join(names)

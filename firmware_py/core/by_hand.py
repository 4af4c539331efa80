"""What a hand at the bench may have an output show in place of the rules, and when. Pure.

The rulebook has no hands. What is asked here is its section 9 the other way about: what would an
output that shows this tell a crew, and was that proven? In an open session a hand may only take
away what an output promises. Between sessions it may show anything, but for what can hurt whoever
has his fingers at the track: see ``_danger``.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from firmware_py.core.names import Shows
from firmware_py.layout.model import Flag, Layout, Spur, Switch, Thing, outputs_of

Believed = Mapping[str, bool | None]
"""How contacts stand, by name; ``None`` or absent is unknown, which is never safe."""

_LAMP = (Shows.STEADY, Shows.FLASHING, Shows.OFF)
CHOICES: Mapping[str, tuple[Shows, ...]] = {
    "green": (Shows.STEADY, Shows.OFF),
    "red": _LAMP,
    "white": _LAMP,
    "lamp": _LAMP,
    "bolt": (Shows.DRAWN, Shows.SHUT),
    "power": (Shows.ON, Shows.OFF),
    "buzzer": (Shows.ON, Shows.OFF),
}
"""What a hand may ask of each output; green never flashes, for that means nothing."""

_IN_SESSION: Mapping[str, tuple[frozenset[Shows], str]] = {
    "green": (frozenset({Shows.OFF}), "green shows only what is proven"),
    "red": (frozenset({Shows.STEADY, Shows.FLASHING}), "no red lamp is put out"),
    "white": (frozenset({Shows.OFF}), "white leads the crews"),
    "lamp": (frozenset({Shows.OFF}), "this lamp leads the crews"),
    "bolt": (frozenset({Shows.SHUT}), "a bolt is drawn only in the locking order"),
    "power": (frozenset({Shows.OFF}), "track power comes only in the locking order"),
    "buzzer": (frozenset({Shows.ON}), "no buzzer is silenced"),
}
"""What a hand may show while a session is open, and why nothing else."""
_FLAG_IN_SESSION = (frozenset({Shows.STEADY}), "a flag's lamp is not put out, nor does it lead")

_CALLED = {
    "green": "Green lamp of",
    "red": "Red lamp of",
    "white": "White lamp of",
    "lamp": "Lamp of",
    "bolt": "Bolt of",
    "power": "Track power of",
    "buzzer": "Buzzer of",
}
_SHOWS = {
    Shows.STEADY: "lit",
    Shows.FLASHING: "flashing",
    Shows.OFF: "off",
    Shows.DRAWN: "drawn",
    Shows.SHUT: "shut",
    Shows.ON: "on",
}


def called(thing: Thing, output: str) -> str:
    """What people call an output: ``Track power of Kiln``."""
    return f"{_CALLED[output]} {thing.name}"


def shows_says(shows: Shows) -> str:
    """What an output shows, in a word."""
    return _SHOWS[shows]


def thing_of(layout: Layout, of: str, output: str) -> Thing | None:
    """The thing that has this output fitted; ``None`` where there is none such."""
    thing = next((one for one in layout.things if one.id == of), None)
    fitted = thing is not None and any(output == name for name, _ in outputs_of(thing))
    return thing if fitted else None


def objection(  # noqa: PLR0913 - what is asked, and what it is judged by
    layout: Layout, thing: Thing, output: str, shows: Shows, believed: Believed, *, opened: bool
) -> str | None:
    """Why a hand may not have an output of a thing show something now; ``None`` where it may.

    ``opened`` is whether a host has opened the session for work.
    """
    if shows not in CHOICES[output]:
        can = " or ".join(CHOICES[output])
        return f"{called(thing, output)} can't be {shows} by hand, only {can}"
    if opened and (why := _in_session(thing, output, shows)):
        return f"while a session is open, {why}; close the session first"
    return next(_danger(layout, thing, shows, believed), None)


def _in_session(thing: Thing, output: str, shows: Shows) -> str | None:
    may, why = _FLAG_IN_SESSION if isinstance(thing, Flag) else _IN_SESSION[output]
    return None if shows in may else why


def _danger(layout: Layout, thing: Thing, shows: Shows, believed: Believed) -> Iterator[str]:
    """Power needs every flag of the spur in its rack, known so; a bolt needs a clear section.

    Section 9: no power while a flag is displayed. Detector locking: an occupied section holds its
    switch. Both count what is unknown as the worse.
    """
    if shows is Shows.ON and isinstance(thing, Spur):
        for flag in (flag for flag in layout.flags if flag.spur == thing.id):
            if believed.get(flag.rack.name) is not True:
                yield f"{flag.name} is not known to be in its rack: somebody may be at the track"
    if shows is Shows.DRAWN and isinstance(thing, Switch):
        detector = thing.detector
        if detector is not None and believed.get(detector.name) is not False:
            yield f"the section of {thing.name} is not known to be clear"

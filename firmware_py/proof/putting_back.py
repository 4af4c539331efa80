"""Hands that put everything back from wherever it stands, each move in the crew's words.

They take a train off before they throw points under it, a key before they open its padlock, and
a padlock off before they move what it holds; what lies behind a shut gate they reach through it.
The padlocks and points are put back in the order of ``closing``, the keys last.
"""

from __future__ import annotations

from typing import Protocol

from firmware_py.core.names import Command, Phase
from firmware_py.layout import model


class Standing(Protocol):
    """Where hands put things back, and what they see there."""

    layout: model.Layout

    def value(self, contact: model.Contact) -> bool | None:
        """The settled value of a contact."""

    def put(self, contact: model.Contact, made: bool) -> None:
        """Move what a contact senses until it settles so."""

    def order(self, command: Command, spur: str) -> None:
        """Give an order."""

    def phase(self, spur: str) -> Phase:
        """Where a spur's work is."""

    def is_released(self, spur: str) -> bool:
        """Whether the foreman has released a spur."""


class Hands:
    """Puts things back; ``said`` has a sentence for each move, ``keys`` counts those with keys."""

    def __init__(self, place: Standing) -> None:
        self.place = place
        self.said: list[str] = []
        self.keys = 0
        self._things = {thing.id: thing for thing in place.layout.things}

    def all_back(self) -> None:
        """Every protection of a fragment's spurs, its switch, its keys, and the orders."""
        layout = self.place.layout
        [switch] = layout.switches
        for spur in layout.spurs:
            for step in spur.closing:
                if step == model.FOREMAN:
                    self.hand_back(spur)
                elif step != switch.id:
                    self.put_back(self._things[step])
                elif spur is layout.spurs[-1]:
                    self.switch_back(switch)
        if not layout.spurs:
            self.switch_back(switch)
        for key in layout.keys:
            self._hang(key)
        for spur in layout.spurs:
            self.end_work(spur)

    # Orders.

    def hand_back(self, spur: model.Spur) -> None:
        """Hand a spur back to its foreman, if it was released."""
        if self.place.is_released(spur.id):
            self.place.order(Command.HAND_BACK, spur.id)
            self.said.append(f"Hand {spur.name} back to the foreman.")

    def end_work(self, spur: model.Spur) -> None:
        """Say that the work is done, if the spur is not idle yet."""
        if self.place.phase(spur.id) is not Phase.IDLE:
            self.place.order(Command.WORK_DONE, spur.id)
            self.said.append(f"Say that the work on {spur.name} is done.")

    # Things.

    def switch_back(self, switch: model.Switch) -> None:
        """Line a switch for the main and lock it."""
        name, value = switch.name, self.place.value
        if value(switch.normal) is not True or value(switch.reverse) is not False:
            self._act(f"Move the train off {name}.", (switch.detector, False))
            for spur in self.place.layout.spurs:
                self._act(f"Clear {spur.name} up to its clearance point.", (spur.fouling, False))
            self._unlock(switch)
            self._act(f"Line {name} for the main.", (switch.reverse, False), (switch.normal, True))
        self._act(f"Lock {name}.", (switch.hasp, True))

    def put_back(self, thing: model.Thing) -> None:
        """Put a protection of a spur back."""
        match thing:
            case model.Gate():
                self._under_lock(thing, f"Shut {thing.name}.", thing.shut)
            case model.Derail():
                self._under_lock(thing, f"Put {thing.name} back on the rail.", thing.on)
            case model.Flag():
                self._set(thing, f"Put up {thing.name}.", thing.rack)
            case model.Chock():
                self._set(thing, f"Set {thing.name} against a wheel.", thing.rack)

    def _set(self, thing: model.Flag | model.Chock, words: str, rack: model.Contact) -> None:
        if self.place.value(rack) is not False:
            self._reach(thing)
            self._act(words, (rack, False))

    def _under_lock(
        self, thing: model.Gate | model.Derail, words: str, holds: model.Contact
    ) -> None:
        hasp = thing.hasp
        if self.place.value(holds) is not True:
            self._reach(thing)
            self._unlock(thing)
            self._act(words, (holds, True))
        if hasp is not None and self.place.value(hasp) is not True:
            self._reach(thing)
            self._act(f"Lock {thing.name}.", (hasp, True))

    def _reach(self, thing: model.Protection) -> None:
        gate = self._things.get(thing.behind or "")
        if isinstance(gate, model.Gate) and self.place.value(gate.shut) is not False:
            self._reach(gate)
            self._unlock(gate)
            self._act(f"Open {gate.name}.", (gate.shut, False))

    def _unlock(self, thing: model.Switch | model.Gate | model.Derail) -> None:
        hasp = thing.hasp
        if hasp is None or self.place.value(hasp) is False:
            return
        key = self._things.get(getattr(thing, "key", None) or "")
        if isinstance(key, model.Key) and self.place.value(key.hook) is not False:
            self.keys += 1
            self._act(f"Take {key.name} off its hook.", (key.hook, False))
        self._act(f"Unlock {thing.name}.", (hasp, False))

    def _hang(self, key: model.Key) -> None:
        before = len(self.said)
        self._act(f"Hang {key.name} on its hook.", (key.hook, True))
        self.keys += len(self.said) - before

    def _act(self, words: str, *targets: tuple[model.Contact | None, bool]) -> None:
        """One move, which may be seen by several contacts; none where all stand so already."""
        value = self.place.value
        left = [(it, made) for it, made in targets if it is not None and value(it) is not made]
        for contact, made in left:
            self.place.put(contact, made)
        if left:
            self.said.append(words)

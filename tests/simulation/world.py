"""The layout outside: contacts that are moved, and pins that show what they were told to."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable
from typing import Any

from firmware_py.core.names import Shows
from firmware_py.layout.model import MADE_AT_REST, Contact, Layout, outputs_of

from .hub import Hub

SAFE = {"bolt": Shows.SHUT, "power": Shows.OFF, "red": Shows.STEADY}
"""What outputs do with nobody to drive them; all others are off."""

Put = Callable[[int, str, bool | None], None]


class World:
    """How every contact really stands, and how every output shows."""

    def __init__(self, layout: Layout, hub: Hub, shows: Callable[[object], None]) -> None:
        self._hub = hub
        self._tell = shows
        self._made = {c.name: c.role in MADE_AT_REST for c in layout.contacts}
        self._wanted = dict(self._made)
        self._lost: set[str] = set()
        self._stuck: set[str] = set()
        self._put: Put | None = None
        self._due_us: dict[str, int] = {}
        """When the latest edge of a contact is handed over."""
        self._late: Counter[str] = Counter()
        """How many edges of a contact are still to be handed over."""
        self.edges = 0
        """How many edges a living engine was told of."""
        self.safe_shows = {
            (thing.id, output): SAFE.get(output, Shows.OFF)
            for thing in layout.things
            for output, _ in outputs_of(thing)
        }
        self.shown = dict(self.safe_shows)

    # Contacts.

    def level(self, contact: str) -> bool | None:
        return None if contact in self._lost else self._made[contact]

    def stands(self, contact: str) -> bool:
        """How it really stands, whether anybody can see it or not."""
        return self._made[contact]

    def levels(self) -> dict[str, bool | None]:
        return {name: self.level(name) for name in self._made}

    def watch(self, put: Put) -> None:
        self._put = put

    def move(self, contact: str, made: bool, late_us: int = 0, stamp_us: int | None = None) -> None:
        """Move a contact, unless it is stuck; whoever watches hears of it, perhaps late.

        ``stamp_us`` is when the kernel saw it, if that is not now.
        """
        self._wanted[contact] = made
        if contact in self._stuck or self._made[contact] is made:
            return
        self._made[contact] = made
        if contact not in self._lost:
            self._deliver(contact, made, late_us, stamp_us)

    def lose(self, contacts: Iterable[str]) -> None:
        for contact in contacts:
            if contact not in self._lost:
                self._lost.add(contact)
                self._deliver(contact, None)

    def find(self, contacts: Iterable[str]) -> None:
        """The chip answers again."""
        for contact in contacts:
            if contact in self._lost:
                self._lost.discard(contact)
                self._deliver(contact, self._made[contact])

    def stick(self, contact: str) -> None:
        self._stuck.add(contact)

    def free(self, contact: str) -> None:
        """A stuck contact springs to where it was moved meanwhile."""
        self._stuck.discard(contact)
        self.move(contact, self._wanted[contact])

    def mend(self) -> None:
        """All faults end."""
        for contact in sorted(self._stuck):
            self.free(contact)
        self.find(sorted(self._lost))

    def _deliver(
        self, contact: str, made: bool | None, late_us: int = 0, stamp_us: int | None = None
    ) -> None:
        put = self._put
        if put is None:
            return
        self.edges += 1
        seen_us = self._hub.now_us if stamp_us is None else stamp_us

        def hand_over() -> None:
            if self._put is put:
                put(seen_us, contact, made)

        def hand_over_late() -> None:
            self._late[contact] -= 1
            hand_over()

        # Late or not, a kernel hands over the edges of one line in their order.
        due_us = max(self._hub.now_us + late_us, self._due_us.get(contact, 0))
        self._due_us[contact] = due_us
        if late_us or self._late[contact]:
            self._late[contact] += 1
            self._hub.at(due_us, hand_over_late)
        else:
            hand_over()

    # Outputs.

    def show(self, key: tuple[str, str], shows: Shows) -> None:
        if key not in self.shown:
            raise KeyError(key)
        self.shown[key] = shows
        self._tell((key, shows))

    def make_safe(self) -> None:
        """What the engine does before it goes, and what wires do by themselves without one."""
        self.shown = dict(self.safe_shows)

    def lose_engine(self) -> None:
        """The process is gone: the kernel lets its lines go, and nobody watches any more."""
        self._put = None
        self.make_safe()


class SimBoard:
    """Stands in for the pins' board, one for each life of the engine."""

    simulated = True
    alive = True

    def __init__(self, world: World, hub: Hub) -> None:
        self._world = world
        self._hub = hub

    def levels(self) -> dict[str, bool | None]:
        self._hub.point()
        return self._world.levels()

    def watch(self, put: Put) -> None:
        self._world.watch(put)

    def show(self, of: str, output: str, shows: Shows) -> None:
        self._world.show((of, output), shows)
        self._hub.point()

    def refresh(self) -> None:
        self._hub.point()

    def safe(self) -> tuple[str, ...]:
        self._hub.point()
        self._world.make_safe()
        return ()

    def shown(self) -> dict[tuple[str, str], Shows]:
        return dict(self._world.shown)

    def troubles(self) -> tuple[Any, ...]:
        return ()

    def say_rests_to(self, say: object) -> None:
        """No coil gets hot here."""

    def close(self) -> None:
        self.safe()


class SimFactory:
    """Stands in for the simulated pins' factory: its hand moves the world."""

    simulated = True
    alive = True

    def __init__(self, world: World) -> None:
        self._world = world

    def rest(self, contacts: Iterable[Contact]) -> None:
        """Nothing: contacts stand as they do, whatever engine comes and goes."""

    def hand(self, contact: Contact, made: bool | None) -> None:
        if made is None:
            self._world.lose((contact.name,))
        else:
            self._world.find((contact.name,))
            self._world.move(contact.name, made)

    def troubles(self) -> tuple[Any, ...]:
        return ()

    def close(self) -> None:
        """Nothing is open."""

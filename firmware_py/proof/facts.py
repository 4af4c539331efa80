"""How things stand, read from contacts alone and in the rulebook's words.

This is the proof's own reading of rulebook sections 4, 6, 8 and 9. It shares no question with
the core, whose answers are held against it.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from firmware_py.core.names import Foreman, Phase, Stage
from firmware_py.core.spur import Spur
from firmware_py.core.stand import Stand
from firmware_py.layout import model
from firmware_py.proof.cells import Cell, Infeasible, Test
from firmware_py.proof.watch import Watch


class Facts:
    """Answers questions about a watched core, before or after the event as its memory stands."""

    def __init__(self, watch: Watch) -> None:
        self.watch = watch
        self.memory = watch.memory
        self.things = {thing.id: thing for thing in watch.layout.things}
        self._tests: dict[tuple[str, str], Test] = {}

    # Contacts.

    def settled(self, contact: model.Contact | None) -> object:
        """The settled value of a contact; ``None`` too where it is not fitted."""
        return None if contact is None else self.memory.read(self.watch.settled[contact.name])

    def made(self, contact: model.Contact | None) -> bool:
        """Whether a contact is fitted and known to be made."""
        return contact is not None and self.settled(contact) is True

    def is_open(self, contact: model.Contact | None) -> bool:
        """Whether a contact is fitted and known to be open."""
        return contact is not None and self.settled(contact) is False

    def is_sound(self, thing: model.Thing) -> bool:
        """Whether every contact of a thing is known and none is chattering."""
        names = [contact.name for contact in thing.contacts]
        return all(self.memory.read(self.watch.settled[n]) is not None for n in names) and not any(
            self.memory.read(self.watch.chattering[n]) for n in names
        )

    def is_quiet(self, name: str) -> bool:
        """Whether a settling of a contact raises nothing: it chatters, or was unknown before."""
        memory, watch = self.memory, self.watch
        if self.before(lambda: memory.read(watch.settled[name])) is None:
            return True
        return bool(self.before(lambda: memory.read(watch.chattering[name])))

    def before(self, ask: Callable[[], object]) -> object:
        """The answer as it was before the event."""
        kept, self.memory.before = self.memory.before, True
        try:
            return ask()
        finally:
            self.memory.before = kept

    # Switches.

    def switch(self, ident: str) -> model.Switch:
        """A switch of the layout."""
        thing = self.things[ident]
        assert isinstance(thing, model.Switch), "it is the id of a switch"
        return thing

    def is_normal(self, switch: model.Switch) -> bool:
        """Whether the points are known to lie fully for the main."""
        return self.made(switch.normal) and self.is_open(switch.reverse)

    def is_reverse(self, switch: model.Switch) -> bool:
        """Whether the points are known to lie fully for the spur."""
        return self.made(switch.reverse) and self.is_open(switch.normal)

    def is_between(self, switch: model.Switch) -> bool:
        """Whether the points are known to fit neither way."""
        return self.is_open(switch.reverse) and self.is_open(switch.normal)

    def is_disputed(self, switch: model.Switch) -> bool:
        """Whether both contacts of the points are made."""
        return self.made(switch.reverse) and self.made(switch.normal)

    def stage(self, switch: str) -> object:
        """The stage that the core has come to."""
        return self.memory.read(self.watch.of_switch[switch]["stage"])

    def spurs_at(self, stand: Stand) -> list[Spur]:
        """All spurs of a stand, also while they are followed one by one."""
        return [spur for spur in self.watch.spurs.values() if spur.switch is stand.switch]

    def is_locked_normal(self, switch: model.Switch) -> bool:
        """Whether a switch is locked and normal; without a lock, whether it is secured."""
        if switch.hasp is None:
            return self.stage(switch.id) is Stage.SECURED
        return self.made(switch.hasp) and self.is_normal(switch)

    def stands_open(self, stand: Stand) -> bool:
        """Whether a violation stands unacknowledged at a stand."""
        return self.memory.read(self.watch.open[stand.number]) == 1

    # Protections (section 6).

    def is_off(self, spur: Spur, step: str) -> bool:
        """Whether a protection is off."""
        return self._asked(spur, step, "off", self._is_off)

    def is_back(self, spur: Spur, step: str) -> bool:
        """Whether a protection is back."""
        thing = self.things.get(step)
        if isinstance(thing, model.Chock):
            detector = self._model(spur).detector
            return self.is_open(thing.rack) or (self.made(thing.rack) and self.is_open(detector))
        return self._asked(spur, step, "back", self._is_back)

    def is_out(self, flag: model.Flag | model.Chock) -> bool:
        """Whether a flag or a chock is known to be out of its rack."""
        return self.is_open(flag.rack)

    def _asked(self, spur: Spur, step: str, what: str, ask: Callable[[Spur, str], bool]) -> bool:
        test = self._tests.get((spur.id + step, what))
        if test is None:
            part = self._home(spur, step).part
            test = self._tests[spur.id + step, what] = Test(part, partial(ask, spur, step))
        return self.memory.test(test)

    def _home(self, spur: Spur, step: str) -> Cell:
        if step == model.FOREMAN:
            return self.watch.says[spur.id]
        return self.watch.settled[self.things[step].contacts[0].name]

    def _is_off(self, spur: Spur, step: str) -> bool:
        match self.things.get(step):
            case model.Flag() | model.Chock() as thing:
                return self.made(thing.rack)
            case model.Gate() as thing:
                return self.is_open(thing.shut)
            case model.Derail() as thing:
                return self.is_open(thing.on)
            case model.Switch() as thing:
                return self.is_reverse(thing) and not self.made(thing.hasp)
            case _:
                return self.memory.read(self.watch.says[spur.id]) is Foreman.RELEASED

    def _is_back(self, spur: Spur, step: str) -> bool:
        match self.things.get(step):
            case model.Flag() as thing:
                return self.is_open(thing.rack)
            case model.Gate() as thing:
                return self.made(thing.shut) and (thing.hasp is None or self.made(thing.hasp))
            case model.Derail() as thing:
                return self.made(thing.on)
            case model.Switch() as thing:
                known = None not in (self.settled(thing.normal), self.settled(thing.reverse))
                return known and self.stage(thing.id) is Stage.SECURED
            case _:
                return self.memory.read(self.watch.says[spur.id]) is not Foreman.RELEASED

    # Spurs (section 8).

    def _model(self, spur: Spur) -> model.Spur:
        thing = self.things[spur.id]
        assert isinstance(thing, model.Spur), "it is the id of a spur"
        return thing

    def opening(self, spur: Spur) -> tuple[str, ...]:
        """The order in which protections come off."""
        return self._model(spur).opening

    def closing(self, spur: Spur) -> tuple[str, ...]:
        """The order in which they go back."""
        return self._model(spur).closing

    def earlier(self, order: tuple[str, ...], step: str) -> tuple[str, ...]:
        """What stands before a step in an order."""
        return order[: order.index(step)]

    def flags(self, spur: Spur) -> list[model.Flag]:
        """The flags of a spur, in file order."""
        return [flag for flag in self.watch.layout.flags if flag.spur == spur.id]

    def chocks(self, spur: Spur) -> list[model.Chock]:
        """The chocks of a spur, in file order."""
        return [chock for chock in self.watch.layout.chocks if chock.spur == spur.id]

    def phase(self, spur: Spur) -> object:
        """The phase that the core has come to."""
        return self.memory.read(self.watch.of_spur[spur.id]["phase"])

    def all_off(self, spur: Spur) -> bool:
        """Whether every protection is off."""
        return all(self.is_off(spur, step) for step in self.opening(spur))

    def all_back(self, spur: Spur) -> bool:
        """Whether every protection is back."""
        return all(self.is_back(spur, step) for step in self.closing(spur))

    def next_step(self, spur: Spur) -> str | None:
        """The next step as section 8 has it. Raises ``Infeasible`` for closing with all back."""
        match self.phase(spur):
            case Phase.IDLE:
                return None
            case Phase.OPENING:
                left = (s for s in self.opening(spur) if not self.is_off(spur, s))
                return next(left, "work")
            case Phase.CLOSING:
                left = (s for s in self.closing(spur) if not self.is_back(spur, s))
                step = next(left, None)
                if step is None:
                    raise Infeasible
                return step
            case _:
                return "work"

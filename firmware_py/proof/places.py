"""Where a crew works: a watched core in one of its runs, or a core that nobody watches."""

from __future__ import annotations

from firmware_py.core.core import Core
from firmware_py.core.entries import Violation
from firmware_py.core.names import Command, Foreman, Phase
from firmware_py.core.orders import Order
from firmware_py.layout import model
from firmware_py.proof.moves import settle_now
from firmware_py.proof.watch import NOW_US, Watch


class Anywhere:
    """A watched core in one of its runs."""

    def __init__(self, watch: Watch) -> None:
        self.watch = watch
        self.layout = watch.layout
        self.orders = 0

    def made(self, contact: model.Contact | None) -> bool:
        """Whether a contact is fitted and made."""
        return contact is not None and self.value(contact) is True

    def value(self, contact: model.Contact) -> bool | None:
        """The settled value of a contact."""
        value = self.watch.memory.read(self.watch.settled[contact.name])
        return value if isinstance(value, bool) else None

    def put(self, contact: model.Contact | None, made: bool) -> None:
        """Move what a contact senses, unless it stands so or is not fitted."""
        if contact is not None and self.value(contact) is not made:
            core = self.watch.contacts[contact.name]
            settle_now(self.watch, contact.name, made, core._settle_us if made else core._clear_us)

    def order(self, command: Command, spur: str) -> None:
        """Give an order."""
        self.orders += 1
        self.watch.core.order(NOW_US, Order(command, spur))

    def phase(self, spur: str) -> Phase:
        """Where a spur's work is."""
        phase = self.watch.memory.read(self.watch.of_spur[spur]["phase"])
        assert isinstance(phase, Phase), "that is what the cell holds"
        return phase

    def is_released(self, spur: str) -> bool:
        """Whether the foreman has released a spur."""
        says = self.watch.says.get(spur)
        return says is not None and self.watch.memory.read(says) is Foreman.RELEASED


class Evening:
    """A core at rest, and a crew that works one spur by the book."""

    def __init__(self, layout: model.Layout, standing: dict[str, bool | None]) -> None:
        self.layout = layout
        self.core = Core(layout, standing)
        self.t_us = 1_000_000
        self.rows: list[dict[str, object]] = [
            {"t": 0, "contact": name, "made": made} for name, made in standing.items()
        ]
        self.violations: list[Violation] = []

    def made(self, contact: model.Contact | None) -> bool:
        """Whether a contact is fitted and made."""
        return contact is not None and self.value(contact) is True

    def value(self, contact: model.Contact) -> bool | None:
        """The settled value of a contact."""
        return self.core._contacts[contact.name].settled

    def put(self, contact: model.Contact | None, made: bool) -> None:
        """Move what a contact senses, unless it stands so or is not fitted."""
        if contact is not None and self.value(contact) is not made:
            self.settle(contact, made)

    def settle(self, contact: model.Contact, made: bool | None) -> None:
        """Move what a contact senses, or (``None``) lose it, and wait until it has settled."""
        self.rows.append({"t": self.t_us / 1e6, "contact": contact.name, "made": made})
        self._take(self.core.reading(self.t_us, contact.name, made))
        self.t_us += contact.settle_us if made else contact.clear_us
        self._take(self.core.advance(self.t_us))
        self.t_us += 1000

    def order(self, command: Command, spur: str) -> None:
        """Give an order."""
        self.rows.append({"t": self.t_us / 1e6, "command": command.value, "spur": spur})
        self._take(self.core.order(self.t_us, Order(command, spur)))
        self.t_us += 1000

    def phase(self, spur: str) -> Phase:
        """Where a spur's work is."""
        return self.core.phases()[spur][0]

    def is_released(self, spur: str) -> bool:
        """Whether the foreman has released a spur."""
        return self.core.foremen().get(spur) is Foreman.RELEASED

    def _take(self, entries: object) -> None:
        assert isinstance(entries, list | tuple), "entries come in sequences"
        self.violations += [entry for entry in entries if isinstance(entry, Violation)]

"""Hands for simulated pins: the kitchen table's stand-in for a builder's own."""

from __future__ import annotations

from firmware_py.commissioning.model import Instruction, Step
from firmware_py.layout.model import MADE_AT_REST, Layout
from firmware_py.pins.board import Board


class HandError(Exception):
    """There is no such contact; the text says which there are."""


class Hands:
    """Moves simulated contacts. They begin as on a layout at rest."""

    def __init__(self, layout: Layout, board: Board) -> None:
        self._board = board
        self._contacts = {contact.name: contact for contact in layout.contacts}
        for contact in layout.contacts:
            self.move(contact.name, made=contact.role in MADE_AT_REST)

    def move(self, name: str, *, made: bool) -> None:
        """Make or break a contact. Raises :class:`HandError` for one that is not there."""
        contact = self._contacts.get(name)
        if contact is None:
            raise HandError(f"no contact {name!r}; there are {', '.join(self._contacts)}")
        self._board.contacts[name].pin.hold(made is contact.inverted)

    def obey(self, asked: Instruction) -> None:
        """Do what an instruction asks, as on a layout whose every wire is right."""
        if asked.step is Step.PREPARE:
            for name in self._contacts:
                self.move(name, made=False)
        elif asked.step in (Step.MAKE, Step.BREAK) and asked.about:
            self.move(asked.about, made=asked.step is Step.MAKE)
        else:
            raise HandError("nothing is to be moved now")

"""Gives every wire that waits for a pin a place, and moves none that has one.

The fewest chips that can do are added. Stand by stand, the board is taken that holds the whole
stand, so long as everything that comes after still finds a place (``fits`` answers that exactly).
So a plan is found whenever there is one. Of a few orders of the stands the one is kept that
splits fewest of them; which of these is best can't be told beforehand.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import product

from firmware_py.layout.electrics import Chip
from firmware_py.layout.model import ChipLine, HeaderPin, Layout, Pin
from firmware_py.wiring.boards import (
    HEADER,
    ON_HEADER,
    TAKES,
    Expanders,
    Free,
    free_places,
    new_chips,
)
from firmware_py.wiring.reasons import reasons_against
from firmware_py.wiring.room import Waiting, fits, waiting_of
from firmware_py.wiring.wires import Need, Wire, neighbours, wires_of


@dataclass(frozen=True, slots=True)
class Plan:
    """Where every wire goes. With ``reasons`` there is no plan, and nothing is placed.

    ``wires`` are all wires with their pins, ``placed`` those that had none before, ``chips`` the
    chips that have to be added, ``split`` the stands whose contacts are on more than one board.
    """

    wires: tuple[Wire, ...]
    placed: tuple[Wire, ...] = ()
    chips: tuple[Chip, ...] = ()
    split: tuple[str, ...] = ()
    reasons: tuple[str, ...] = ()


def plan_for(layout: Layout, expanders: Expanders = Expanders.I2C) -> Plan:
    """Plan a layout; ``expanders`` says which kind of chip may be added to those that it has."""
    wires = wires_of(layout)
    waiting = [wire for wire in wires if wire.pin is None]
    if not waiting:
        return Plan(wires, split=_split(wires))
    addable = new_chips(layout, wires, expanders)
    needed = waiting_of(waiting)
    for count in range(len(addable) + 1):
        chips = (*layout.chips, *addable[:count])
        free = free_places(layout, wires, chips, expanders)
        if fits(needed, free.room()):
            placed = _best(layout, wires, free)
            after = tuple(placed.get(wire.id, wire) for wire in wires)
            done = tuple(wire for wire in after if wire.id in placed)
            return Plan(after, done, addable[:count], _split(after))
    free = free_places(layout, wires, (*layout.chips, *addable), expanders)
    return Plan(wires, reasons=reasons_against(layout, wires, free.room(), expanders))


def board_of(pin: Pin) -> str | None:
    """The board that a pin is on."""
    match pin:
        case HeaderPin():
            return HEADER
        case ChipLine(chip, _):
            return chip
        case _:
            return None


@dataclass(slots=True)
class _Attempt:
    """One way through: what is still free and still waits, and what was given so far."""

    free: Free
    waiting: Waiting
    given: dict[tuple[str, str], Wire] = field(default_factory=dict)

    def fork(self) -> _Attempt:
        return _Attempt(self.free.copy(), self.waiting, dict(self.given))

    def adopt(self, other: _Attempt) -> None:
        self.free, self.waiting, self.given = other.free, other.waiting, other.given

    def place(self, wire: Wire, board: str) -> bool:
        """Put a wire on a board if all others can still be placed after it."""
        sorts = self.free.places[board]
        for sort in TAKES[wire.need]:
            if not sorts.get(sort):
                continue
            rest = self.waiting.without(wire)
            room = self.free.room()
            ua = room.ua - (wire.ua if sort in ON_HEADER else 0)
            if ua < 0 and sort in ON_HEADER and wire.ua:
                continue
            left = replace(room, **{sort.value: getattr(room, sort.value) - 1}, ua=ua)
            if fits(rest, left):
                pin = self.free.take(board, sort, wire.ua)
                self.given[wire.id] = replace(wire, pin=pin)
                self.waiting = rest
                return True
        return False

    def place_all(self, wires: Iterable[Wire], board: str) -> bool:
        """Put them all on that board, or none."""
        trial = self.fork()
        if not all(trial.place(wire, board) for wire in wires):
            return False
        self.adopt(trial)
        return True


def _best(layout: Layout, wires: Sequence[Wire], free: Free) -> dict[tuple[str, str], Wire]:
    best: dict[tuple[str, str], Wire] = {}
    fewest: int | None = None
    # Pins of the header that can be spared are: a bolt that is added later goes nowhere else.
    for large_first, header_first in product((False, True), repeat=2):
        attempt = _Attempt(free.copy(), waiting_of(wire for wire in wires if wire.pin is None))
        _walk(layout, wires, attempt, large_first, header_first)
        after = [attempt.given.get(wire.id, wire) for wire in wires]
        split = len(_split(after))
        if fewest is None or split < fewest:
            best, fewest = attempt.given, split
        if split == 0:
            break
    return best


def _walk(
    layout: Layout, wires: Sequence[Wire], attempt: _Attempt, large_first: bool, header_first: bool
) -> None:
    stands: dict[str, list[Wire]] = {}
    for wire in wires:
        stands.setdefault(wire.stand, []).append(wire)
    beside = neighbours(layout)
    order = sorted(stands.values(), key=len, reverse=True) if large_first else stands.values()
    for stand in order:
        near = [*stand, *stands.get(beside.get(stand[0].stand, ""), ())]
        homes = list(_homes(near, attempt, header_first))
        _settle([wire for wire in stand if wire.pin is None], attempt, homes)


def _homes(near: Iterable[Wire], attempt: _Attempt, header_first: bool) -> Iterator[str]:
    """The boards, first those where wires of the stand are already, then those of its switch."""
    seen: dict[str, None] = {}
    for wire in near:
        board = board_of(attempt.given.get(wire.id, wire).pin)
        if board in attempt.free.places:
            seen.setdefault(board)
    yield from seen
    others = [board for board in attempt.free.places if board not in seen]
    yield from sorted(others, key=lambda board: board == HEADER and not header_first)


def _settle(waiting: Sequence[Wire], attempt: _Attempt, homes: Sequence[str]) -> None:
    """Place a stand: as a whole, else its contacts together, else wire by wire."""
    coils = [wire for wire in waiting if wire.need is Need.COIL]
    _one_by_one(coils, attempt, (HEADER,))
    rest = [wire for wire in waiting if wire.need is not Need.COIL]
    if any(attempt.place_all(rest, board) for board in homes):
        return
    contacts = [wire for wire in rest if wire.senses]
    if not any(attempt.place_all(contacts, board) for board in homes):
        _one_by_one(contacts, attempt, homes)
    _one_by_one([wire for wire in rest if not wire.senses], attempt, homes)


def _one_by_one(wires: Iterable[Wire], attempt: _Attempt, homes: Sequence[str]) -> None:
    for wire in wires:
        if not any(attempt.place(wire, board) for board in homes):
            raise AssertionError(f"{wire.name} has no place though the count said so")


def _split(wires: Iterable[Wire]) -> tuple[str, ...]:
    boards: dict[str, set[str | None]] = {}
    for wire in wires:
        if wire.senses and wire.pin is not None:
            boards.setdefault(wire.stand, set()).add(board_of(wire.pin))
    return tuple(stand for stand, found in boards.items() if len(found) > 1)

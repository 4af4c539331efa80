"""The way back to idle with everything put back, from every state (property 4).

Contacts first: each known again, the switch lined and locked, every protection back; then the
orders that end the work. Each part is shown to get there from every state it has.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from firmware_py.core.names import Command, Foreman, Phase, Points, Stage
from firmware_py.core.orders import Order
from firmware_py.core.stand import Stand
from firmware_py.layout.model import MADE_AT_REST
from firmware_py.proof.cells import Infeasible, Part, bits
from firmware_py.proof.explore import Explored
from firmware_py.proof.longest import longest, tape_of_stuck
from firmware_py.proof.moves import Move, moves_at, reset
from firmware_py.proof.runs import step_from
from firmware_py.proof.watch import NOW_US, OWN_CONTACTS, Watch
from firmware_py.proof.way import WayBack


def hand_moves(watch: Watch, stand: Stand) -> list[Move]:
    """What hands can do to the contacts of a switch's own."""
    own = [getattr(stand.switch, role) for role in OWN_CONTACTS]
    names = {contact.name for contact in own if contact is not None}
    return [m for m in moves_at(watch, stand) if m.on in names and m.value is not None]


@dataclass(frozen=True, slots=True)
class Recovery:
    """The most moves that a way back takes, that way, and states from which none leads back.

    ``way`` is ``None`` where hands that go by the book do not come back from everywhere;
    ``tape`` shows what is stuck, where a session was found that does.
    """

    moves: int
    way: WayBack | None
    stuck: tuple[str, ...]
    tape: tuple[dict[str, object], ...] = ()


def recovery(explored: Explored, stand: Stand) -> Recovery:
    """The way back from every state."""
    watch = explored.watch
    main = watch.of_switch[stand.switch.id]["points"].part
    home, ways = _homes(watch, stand, main), 0
    back: dict[int, set[int]] = {}
    leads: dict[tuple[str, bool], dict[int, set[int]]] = {}
    for move in hand_moves(watch, stand):
        here = leads.setdefault((move.on, move.value is True), {})
        for number, after in _targets(explored, main, move):
            back.setdefault(after, set()).add(number)
            here.setdefault(number, set()).add(after)
    reached, edge = set(home), set(home)
    while edge:
        edge = {n for after in edge for n in back.get(after, ())} - reached
        reached |= edge
        ways += bool(edge)
    stuck = [f"{stand.switch.id} from {main.states[n]}" for n in bits(main.full)
             if n not in reached]  # fmt: skip
    for spur_stuck in _orders_end(watch, stand):
        stuck.append(spur_stuck)
    others = sum(
        contact.judge is stand and contact.home is not stand.switch and _goes_back(name)
        for name, contact in watch.contacts.items()
    )
    found = None if stuck else longest(explored, stand, leads)
    if found is None:
        tape = tape_of_stuck(explored) if stuck else ()
        return Recovery(ways + others + 2 * len(stand.spurs), None, tuple(stuck[:5]), tape)
    return Recovery(*found, ())


def _goes_back(name: str) -> bool:
    return not name.endswith((".button", ".detector", ".fouling"))


def _homes(watch: Watch, stand: Stand, main: Part) -> set[int]:
    switch, found = stand.switch, set()
    stage = watch.of_switch[switch.id]["stage"]
    points = watch.of_switch[switch.id]["points"]
    for number, state in enumerate(main.states):
        if state[stage.index] is Stage.SECURED and state[points.index] is Points.NORMAL:
            found.add(number)
    return found


def _targets(explored: Explored, main: Part, move: Move) -> Iterator[tuple[int, int]]:
    memory = explored.watch.memory
    for _ in step_from(explored.watch, move, {main: main.full}, None):
        changes = [(c.index, v) for c, v in memory.written.items() if c.part is main]
        for number in bits(memory.domain[main.place]):
            after = list(main.states[number])
            for index, value in changes:
                after[index] = value
            yield number, main.at[tuple(after)]


def _orders_end(watch: Watch, stand: Stand) -> Iterator[str]:
    """Spurs that hand-back and work-done leave away from idle though everything is back."""
    for spur in stand.spurs:
        bad: list[object] = []

        def end(ident: str = spur.id, bad: list[object] = bad) -> None:
            reset(watch, stand.number)
            _put_back(watch, stand)
            read, cells = watch.memory.read, watch.of_spur[ident]
            says = watch.says.get(ident)
            released = says is not None and read(says) is Foreman.RELEASED
            if read(cells["phase"]) is Phase.CLOSING and not released:
                raise Infeasible  # Closing with everything back: ``Judge`` shows there is none.
            if released:
                watch.core.order(NOW_US, Order(Command.HAND_BACK, ident))
            if read(cells["phase"]) is not Phase.IDLE:
                watch.core.order(NOW_US, Order(Command.WORK_DONE, ident))
            if read(cells["phase"]) is not Phase.IDLE:
                bad.append(read(cells["phase"]))

        for _ in watch.memory.runs({}, end):
            pass
        if bad:
            yield f"{spur.id} stays {bad[0]} with everything back"


def _put_back(watch: Watch, stand: Stand) -> None:
    memory = watch.memory
    for name, contact in watch.contacts.items():
        if contact.judge is stand and not name.endswith(".button"):
            at_rest = name.rpartition(".")[2] in MADE_AT_REST
            memory.require(watch.settled[name], at_rest)
    cells = watch.of_switch[stand.switch.id]
    memory.require(cells["stage"], Stage.SECURED)
    for spur in stand.spurs:  # The other spurs of the switch were ended before.
        memory.require(watch.testing[spur.id], False)

"""Random schedules of faults over a whole club, and what must hold after each of them."""

from __future__ import annotations

import json
import time
from dataclasses import dataclass, field
from io import BytesIO
from random import Random

from engine.engine_plant import all_entries
from sqlalchemy.exc import SQLAlchemyError

from club.faults import Fault, fault, kinds
from club.fleet import Fleet, until
from club.truth import difference, doubled, errands, states
from club.working import Hands, ask_from_board
from firmware_py.layout.reading import parse_layout
from firmware_py.logbook.reading import Reader
from firmware_py.logbook.tapes import tape_lines
from firmware_py.tape.lines import line_of
from firmware_py.tape.reading import TapeReader
from firmware_py.tape.replay import replay

PROMISED_S = 5.0


@dataclass(slots=True)
class Outcome:
    """What became of one schedule. ``right_after_s`` counts from the cure of its last fault."""

    seed: int
    faults: list[str]
    right_after_s: float = 0.0
    waited_for: str = ""
    wrong: list[str] = field(default_factory=list)

    def __str__(self) -> str:
        well = f"right {self.right_after_s:.1f} s after the cure ({self.waited_for})"
        word = "; ".join(self.wrong) or well
        return f"seed {self.seed}: {', '.join(self.faults)}: {word}"


def is_right(fleet: Fleet) -> str:
    """Why some board is not right now; empty where all are."""
    try:
        for board in fleet.boards:
            told = states(board.database)
            for node in fleet.nodes:
                if told.get(node.name) != "guarding":
                    return f"{board.name}: {node.name} is {told.get(node.name)}"
                if found := difference(node.database, board.database, node.name):
                    return f"{board.name}: {found}"
    except SQLAlchemyError as trouble:
        return f"{type(trouble).__name__}: {str(trouble)[:200]}"
    return ""


def play(fleet: Fleet, hands: Hands, seed: int, only: str | None = None) -> Outcome:
    """Play one schedule: a few faults, that may overlap, with work going on all the while."""
    random = Random(seed)
    known = kinds(fleet)
    chosen = [only] if only else random.sample(known, random.randint(1, 3))
    faults = [fault(fleet, kind, random, random.uniform(0.3, 4.0)) for kind in chosen]
    outcome = Outcome(seed, [one.name for one in faults])
    hands.go_on()
    cured_s = _cause(fleet, faults, random)
    # The work goes on while a board catches up, but what is compared must stand still.
    hands.rest()
    deadline_s = time.monotonic() + 180.0
    while why := is_right(fleet):
        outcome.waited_for = why
        if time.monotonic() > deadline_s:
            outcome.wrong.append(why)
            return outcome
        time.sleep(0.05)
    outcome.right_after_s = time.monotonic() - cured_s
    outcome.wrong += _judged(fleet)
    return outcome


def _cause(fleet: Fleet, faults: list[Fault], random: Random) -> float:
    """Begin and cure them all; the answer is the time of the last cure."""
    now_s = time.monotonic()
    events = []
    for one in faults:
        begins_s = now_s + random.uniform(0.0, 1.5)
        events += [(begins_s, one.begin), (begins_s + one.lasts_s, one.cure)]
    for at_s, do in sorted(events, key=lambda event: event[0]):
        time.sleep(max(0.0, at_s - time.monotonic()))
        do()
        ask_from_board(random.choice(fleet.boards), random.choice(fleet.nodes).name, random)
    return time.monotonic()


def _judged(fleet: Fleet) -> list[str]:
    """What is wrong although every board looks right."""
    wrong = []
    for board in fleet.boards:
        wrong += [found for node in fleet.nodes if (found := doubled(board.database, node.name))]
    for node in fleet.nodes:
        ids = [row[0] for row in errands(node.database)]
        if len(ids) != len(set(ids)):
            wrong.append(f"{node.name}: an errand was left twice")
    return wrong


def lamps_unaffected(fleet: Fleet) -> list[str]:
    """Rulebook section 10: a box's own tape gives exactly what it logged, whatever befell others.

    Its outputs are among its entries: so no lamp has shown anything else than the core decided
    from the readings alone.
    """
    wrong = []
    for node in fleet.nodes:
        reader = Reader(node.database)
        for session in reader.sessions():
            lines = [json.dumps(line) for line in tape_lines(node.database, session.id)]
            layout = parse_layout(session.layout_toml, "the session's layout")
            tape = TapeReader(layout, _stream(lines), "the session's tape")
            played = [line_of(entry) for entry in replay(layout, tape)]
            logged = [entry.line for entry in all_entries(reader, session.id)]
            if session.tape_gap is None and played[: len(logged)] != logged:
                wrong.append(f"{node.name}: session {session.id} is not what its tape gives")
        reader.close()
    return wrong


def _stream(lines: list[str]) -> BytesIO:
    return BytesIO("\n".join(lines).encode())


def ready(fleet: Fleet) -> None:
    """Wait until all boards are right for the first time."""
    until(lambda: not is_right(fleet), lambda: f"{is_right(fleet)}\n{fleet.said}")

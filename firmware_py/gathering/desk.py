"""The board's own sessions, and the requests of its pages, which it passes on to the boxes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sqlalchemy import Connection, insert, literal_column, select, update

from firmware_py.club.messages import Answer, Ask
from firmware_py.gathering import store
from firmware_py.gathering.attendance import Fares
from firmware_py.gathering.names import of_node, of_number, title_of
from firmware_py.logbook.records import RequestRecord
from firmware_py.logbook.requests import ORDER, unanswered
from firmware_py.logbook.requests import SESSION as TURN
from firmware_py.logbook.tables import GATHERED, PULSE, SESSION

AGAIN_AFTER_S = 0.5
GIVEN_UP_AFTER_S = 8.0
"""A box's engine takes no request that is older than ten seconds."""
LASTS_S = 10
_PULSE_ID = 1


@dataclass(slots=True)
class Errand:
    """A request on its way to a box; ``request_id`` is ``None`` for the board's own."""

    node: str
    ask: Ask
    request_id: int | None
    began_s: float
    sent_s: float = float("-inf")


@dataclass(frozen=True, slots=True)
class Own:
    """The board's own session; ``turned`` says that a host's request has begun it."""

    id: int
    began_wall_us: int
    opened: bool
    turned: bool


class Desk:
    """Only the gatherer's thread may use it. ``title`` is what the club is called."""

    def __init__(self, board: str, title: str) -> None:
        self._board = board
        self._title = title
        self._own: Own | None = None
        self._errands: dict[str, Errand] = {}
        self._turns_told: set[str] = set()
        self._answers: list[tuple[str, Answer]] = []

    def hear(self, node: str, answer: Answer) -> None:
        """Keep a box's answer for the next transaction."""
        errand = self._errands.get(answer.id)
        if errand is not None and errand.node == node:
            self._answers.append((node, answer))

    def forget(self) -> None:
        """Forget what may not be in the database: a transaction has failed."""
        self._own = None

    def attend(
        self,
        connection: Connection,
        fares: Mapping[str, Fares],
        node_ids: Mapping[int, str],
        *,
        now_s: float,
        wall_us: int,
    ) -> None:
        """Take the boxes' answers in, and what the pages ask; write what became of it."""
        own = self._own or _own(connection, self._title, wall_us)
        for _, answer in self._answers:
            errand = self._errands[answer.id]
            if errand.request_id is not None:
                store.answer(connection, errand.request_id, answer.accepted, answer.why, wall_us)
        for request in unanswered(connection):
            known = self._errands.get(self._name(request))
            if request.kind == TURN:
                own = _turn(connection, own, request, self._title, wall_us)
            elif known is None:
                why = self._route(request, fares, node_ids, now_s)
                if why is not None:
                    store.answer(connection, request.id, False, why, wall_us)
            elif now_s - known.began_s >= GIVEN_UP_AFTER_S:
                why = f"{title_of(known.node)} has not answered; look there before asking again"
                store.answer(connection, request.id, False, why, wall_us)
        self._own = own

    def attended(self, now_s: float) -> None:
        """The transaction was committed: what is answered or too old can go."""
        for _, answer in self._answers:
            self._errands.pop(answer.id, None)
        self._answers.clear()
        late = [
            name
            for name, one in self._errands.items()
            if one.request_id is not None and now_s - one.began_s >= GIVEN_UP_AFTER_S
        ]
        for name in late:
            del self._errands[name]

    def due(self, fares: Mapping[str, Fares], now_s: float) -> list[Errand]:
        """The errands to be sent now, for the first time or again."""
        self._tell_turns(fares, now_s)
        found = [
            one
            for one in self._errands.values()
            if now_s - one.sent_s >= AGAIN_AFTER_S and fares.get(one.node) is Fares.GUARDING
        ]
        for one in found:
            one.sent_s = now_s
        return found

    def beat(self, connection: Connection) -> None:
        """Count the board's own pulse up."""
        session = self._own.id if self._own else None
        values = {"state": "guarding", "session_id": session}
        more = {"beat": PULSE.c.beat + literal_column("1")}
        changed = update(PULSE).where(PULSE.c.id == _PULSE_ID).values(values | more)
        if not connection.execute(changed).rowcount:
            connection.execute(insert(PULSE).values(values | {"id": _PULSE_ID, "beat": 1}))

    def _tell_turns(self, fares: Mapping[str, Fares], now_s: float) -> None:
        """Have each box that guards follow the board's session, once for each of them."""
        own = self._own
        if own is None or not own.turned:
            return
        for node, word in fares.items():
            name = f"turn-{own.began_wall_us}-{own.id}-{node}"
            if word is Fares.GUARDING and name not in self._turns_told:
                command = "open" if own.opened else "close"
                ask = Ask(name, self._board, TURN, command)
                self._errands[name] = Errand(node, ask, None, now_s)
                self._turns_told.add(name)

    def _route(
        self,
        request: RequestRecord,
        fares: Mapping[str, Fares],
        node_ids: Mapping[int, str],
        now_s: float,
    ) -> str | None:
        """Begin an errand, or say why not."""
        found = _addressed(request, node_ids)
        if found is None:
            return "it names nothing that is on this board"
        node, own_names = found
        word = fares.get(node)
        if word is None:
            return f"there is no box {node!r} on this board"
        if word is Fares.SHARED:
            return f"two boxes call themselves {title_of(node)}; nothing was asked of either"
        # One that is behind is there: it is asked as soon as all that it told is gathered.
        if word not in (Fares.GUARDING, Fares.BEHIND):
            return f"{title_of(node)} does not guard now ({word}); nothing was asked of it"
        name = self._name(request)
        ask = Ask(
            name,
            self._board,
            request.kind,
            command=request.command,
            spur=own_names.get("spur"),
            violation=int(own_names["violation"]) if "violation" in own_names else None,
            cars=request.cars,
            note=request.note,
            contact=own_names.get("contact"),
            made=request.made,
        )
        self._errands[name] = Errand(node, ask, request.id, now_s)
        return None

    def _name(self, request: RequestRecord) -> str:
        return f"r-{request.wall_us}-{request.id}"


def _addressed(
    request: RequestRecord, node_ids: Mapping[int, str]
) -> tuple[str, dict[str, str]] | None:
    """Whose the thing is that a request names, and the box's own name for it."""
    if request.kind == ORDER and request.violation is not None:
        node_id, number = of_number(request.violation)
        return (node_ids[node_id], {"violation": str(number)}) if node_id in node_ids else None
    key = "spur" if request.kind == ORDER else "contact"
    found = of_node(getattr(request, key) or "")
    return (found[0], {key: found[1]}) if found else None


def _own(connection: Connection, title: str, wall_us: int) -> Own:
    """The board's session that goes on, or a first one."""
    gathered = select(GATHERED.c.session_id)
    wanted = select(SESSION).where(SESSION.c.id.not_in(gathered)).order_by(SESSION.c.id.desc())
    rows = connection.execute(wanted.limit(2)).all()
    if rows and rows[0].ended_t_us is None:
        return Own(rows[0].id, rows[0].began_wall_us, rows[0].opened, len(rows) > 1)
    return _begin(connection, title, wall_us, opened=False, turned=bool(rows))


def _turn(
    connection: Connection, own: Own, request: RequestRecord, title: str, wall_us: int
) -> Own:
    opens = request.command == "open"
    if request.command not in {"open", "close"} or opens == own.opened:
        why = f"a session is {'open' if own.opened else 'not open'}; there is nothing to do"
        store.answer(connection, request.id, False, why, wall_us)
        return own
    ended = {"ended_wall_us": wall_us, "ended_t_us": max(0, wall_us - own.began_wall_us)}
    connection.execute(update(SESSION).where(SESSION.c.id == own.id).values(ended))
    store.answer(connection, request.id, True, None, wall_us)
    return _begin(connection, title, wall_us, opened=opens, turned=True)


def _begin(connection: Connection, title: str, wall_us: int, *, opened: bool, turned: bool) -> Own:
    values = {
        "layout_name": title,
        "layout_path": title,
        "layout_toml": "",
        "simulated": False,
        "began_wall_us": wall_us,
        "outset": "{}",
        "opened": opened,
    }
    made = connection.execute(insert(SESSION).values(values)).inserted_primary_key
    assert made, "a session has an id"
    return Own(int(made[0]), wall_us, opened, turned)

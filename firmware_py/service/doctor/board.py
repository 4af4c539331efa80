"""A board host: its gatherer, its database, and each box as far as the board knows."""

from __future__ import annotations

from collections.abc import Iterator

from sqlalchemy import Engine, create_engine, false, select, update
from sqlalchemy.engine import make_url
from sqlalchemy.exc import ArgumentError, NoSuchModuleError, SQLAlchemyError

from firmware_py.gathering.attendance import Fares
from firmware_py.gathering.board_file import BoardFile
from firmware_py.gathering.names import title_of
from firmware_py.gathering.words import SAYS
from firmware_py.health.record import GathererHealth, boot_id, path_of, read
from firmware_py.logbook.errors import LogbookError, reason
from firmware_py.logbook.opening import logbook_url
from firmware_py.logbook.tables import NODE
from firmware_py.service.doctor import club, machine, pi, processes
from firmware_py.service.doctor.findings import Case, Finding, care, span, untold, well
from firmware_py.service.doctor.pi_facts import read_facts

START = "start it: spurlock board FILE, or systemctl start spurlock.target on an installed one"
WITHIN_S = 5
_LOOK = "look at that box: spurlock doctor with its layout, there"
_DO: dict[str, str] = {
    Fares.SILENT: f"see that it is on, and on the network; then {_LOOK}",
    Fares.GONE: f"switch it on; if it is on, {_LOOK}",
    Fares.LISTENING: f"if that lasts, {_LOOK}",
    Fares.STARTING: f"if that lasts, {_LOOK}",
    Fares.BEHIND: "it catches up by itself; if that lasts, see broker and database",
    Fares.BY_HAND: "end the hand's work at that box's bench",
    Fares.SHARED: "switch one of them off, or give it a [node] name and a password of its own",
    Fares.UNREADABLE: "give box and board the same release of Spurlock",
}

Boxes = list[tuple[str, str, str | None, int]]
"""Each box's name, how it fares, what can't be read of it, and when it was heard (wall, us)."""


def examine_board(
    case: Case, board: BoardFile, ask: machine.Ask = machine.ask_machine
) -> list[Finding]:
    """Look at every part of a board host; none of it is changed."""
    record = read(path_of(case.logbook, GathererHealth, case.root), GathererHealth)
    fresh = record if club.is_fresh(case, record) else None
    kept, boxes = database(case)
    return [
        *club.speaking(case, board.node, board.folder, fresh),
        gatherer(case, record),
        processes.screen(case, START),
        kept,
        *each_box(case, boxes, fresh),
        machine.disk(case),
        machine.heat(case),
        machine.supply(case, ask),
        machine.clock(case, None),
        pi.overlay(read_facts(case)),
    ]


def gatherer(case: Case, record: GathererHealth | None) -> Finding:
    """How the gatherer fares, by its own words."""
    if record is None or record.boot != boot_id(case.root):
        return care("gatherer", "no gatherer runs on this database", START)
    if not club.is_fresh(case, record):
        age_s = (case.steady_us() - record.at_us) / 1_000_000
        return care("gatherer", f"nothing was heard of it for {span(age_s)}", START)
    if record.database is not None:
        return care("gatherer", f"it can't write: {record.database}", "see database and disk")
    if record.trouble is not None:
        return care("gatherer", record.trouble, "see broker")
    return well("gatherer", f"it hears the broker as {record.board}, and writes")


def database(case: Case) -> tuple[Finding, Boxes | None]:
    """Whether the database is there and can be written, and what it has of the boxes.

    A write is begun that would change no row, and is taken back.
    """
    if case.file is not None and not case.file.is_file():
        do = "one is made when the gatherer first runs; see that the name is right"
        return care("database", f"there is no file {case.file}", do), None
    try:
        shown, engine = _opened(case)
    except (LogbookError, ArgumentError, NoSuchModuleError, ModuleNotFoundError) as error:
        do = "correct logbook in the board's file; PostgreSQL needs pip install '.[postgresql]'"
        return care("database", f"it can't be opened: {error}", do), None
    try:
        with engine.connect() as connection:
            columns = (NODE.c.name, NODE.c.state, NODE.c.trouble, NODE.c.heard_wall_us)
            rows = connection.execute(select(*columns).order_by(NODE.c.name))
            boxes: Boxes = [(row[0], row[1], row[2], row[3]) for row in rows]
            connection.rollback()
            connection.execute(update(NODE).where(false()).values(revision=NODE.c.revision))
            connection.rollback()
    except SQLAlchemyError as error:
        return _unwell(shown, reason(error)), None
    finally:
        engine.dispose()
    count = "1 box" if len(boxes) == 1 else f"{len(boxes)} boxes"
    return well("database", f"{shown} can be read and written; it has {count}"), boxes


def each_box(case: Case, boxes: Boxes | None, fresh: GathererHealth | None) -> Iterator[Finding]:
    """How each box fares; what nobody watches now is not known."""
    if boxes is None:
        boxes = [(name, word, None, 0) for name, word in (fresh.boxes if fresh else {}).items()]
    for name, word, trouble, heard_us in boxes:
        title = f"{title_of(name)} ({name})"
        age = f"last heard {span(max(0.0, (case.wall_us() - heard_us) / 1_000_000))} ago"
        if fresh is None:
            yield untold("box", f"{title}: not known while no gatherer runs; {age}")
        elif word == Fares.GUARDING:
            yield well("box", f"{title} guards")
        else:
            says = f"{title}: {SAYS.get(word, SAYS[Fares.SILENT])}"
            more = f" ({trouble})" if trouble else f"; {age}" if heard_us else ""
            yield care("box", says + more, _DO.get(word, _LOOK))


def _opened(case: Case) -> tuple[str, Engine]:
    url = make_url(logbook_url(case.logbook))
    within = "timeout" if url.get_backend_name() == "sqlite" else "connect_timeout"
    engine = create_engine(url, connect_args={within: WITHIN_S})
    return url.render_as_string(hide_password=True) if case.file is None else str(case.file), engine


def _unwell(shown: str, why: str) -> Finding:
    if "no such table" in why or ("does not exist" in why and "relation" in why):
        do = "its tables are made when the gatherer first runs"
        return care("database", f"{shown} has no board in it", do)
    if "readonly" in why or "read-only" in why or "permission denied" in why:
        do = "give it, and its folder, to the user who runs the board, who has to write it"
        return care("database", f"{shown} can't be written: {why}", do)
    if "locked" in why:
        return care("database", f"{shown} is locked by another program", "close that program")
    do = "start the database; if it runs, see its own log, and logbook in the board's file"
    return care("database", f"{shown} can't be used: {why}", do)

"""The session's page, the restore check, the debrief and its tables."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Literal

import msgspec
from flask import Blueprint, Response, jsonify, render_template, request
from flask.typing import ResponseReturnValue

from firmware_py.logbook.forecasting import fact_of, forecast_of
from firmware_py.logbook.requests import leave_session
from firmware_py.logbook.screen.jobs import jobs_of
from firmware_py.logbook.screen.settings import settings
from web.asks import AskError, decoded
from web.backstage import Backstage, wall_us
from web.bodies import body_of
from web.debrief.export import Table, entries_table, steps_table, violations_table, written
from web.debrief.library import Library, Told
from web.debrief.page import page_of
from web.debrief.restore import restore_check
from web.debrief.source import Header, entries_of, header, headers
from web.debrief.study import Debrief, study
from web.debrief.view import debrief_view
from web.forecast.compared import Compared
from web.jobs.settings import waiting_ceiling
from web.places import Places

COMPARED = 20
"""How many earlier sessions the times at the steps are compared with."""
LISTED = 60
AT_ONCE = 2
"""Debriefs put together at once, of the threads that answer requests."""
BIGGEST = 2**62


class SessionBody(msgspec.Struct, forbid_unknown_fields=True):
    """Whether a session is to be opened or closed."""

    command: Literal["open", "close"]


class Desk:
    """Finds sessions and puts their debriefs together."""

    def __init__(self, backstage: Backstage) -> None:
        self._backstage = backstage
        self._engine = backstage.engine
        self.library = Library(backstage.reader)
        self._places = Places(AT_ONCE)

    def listed(self) -> list[Header]:
        """The sessions for work, newest first."""
        return headers(self._engine, LISTED)

    def found(self, session: int | None) -> Header | None:
        """A session by its number, or the newest for work; ``None`` where there is none yet.

        Raises ``AskError`` 404 for a number that no session has.
        """
        if session is None:
            return next(iter(headers(self._engine, 1)), None)
        one = header(self._engine, min(session, BIGGEST))
        if one is None:
            raise AskError(404, f"there is no session {session}")
        return one

    def debrief(self, session: Header) -> Debrief:
        """Put it together. Raises ``AskError`` 503 where too many want one."""
        with self._places.taken("debriefs"):
            return self._put_together(session)

    def _put_together(self, session: Header) -> Debrief:
        live = self._backstage.follower.live
        followed = self._backstage.follower.followed
        standing = followed.standing if live and followed else None
        told = self.library.told(session, wall_us() if live else 0, standing)
        earlier = [
            one
            for one in self.listed()
            if one.id < session.id and one.layout_name == session.layout_name
        ]
        jobs = jobs_of(self._engine, session.layout_name, dropped=True)
        history = self.library.digests_of(earlier[:COMPARED], jobs)
        ceiling = waiting_ceiling(settings(self._engine))
        return study(told, jobs, history, ceiling, self._compared(session, told))

    def _compared(self, session: Header, told: Told) -> Compared | None:
        """The forecast that the session was opened with, if there is one, and its fact."""
        kept = forecast_of(self._engine, session.layout_name, session.id)
        if kept is None:
            return None
        fact = fact_of(self._engine, told.layout, session.id, kept.answer)
        return None if fact is None else Compared(kept.answer, fact, session.ended)


def debrief_room(backstage: Backstage) -> Blueprint:
    """The blueprint of ``/session``, ``/debrief`` and what they are made from."""
    blueprint = Blueprint("debrief", __name__)
    desk = Desk(backstage)
    _session_routes(blueprint, backstage)
    _debrief_routes(blueprint, backstage, desk)
    return blueprint


def _session_routes(blueprint: Blueprint, backstage: Backstage) -> None:
    @blueprint.get("/session")
    def session_page() -> ResponseReturnValue:
        return render_template("session.html")

    @blueprint.post("/api/session")
    def turn() -> ResponseReturnValue:
        """Ask for the session to be opened or closed: 202 with the request's number."""
        body = decoded(body_of(request), SessionBody)
        backstage.door.require(request)
        backstage.followed()
        if not backstage.follower.live:
            raise AskError(409, "the engine does not answer; nothing was asked")
        number = leave_session(backstage.engine, body.command, wall_us())
        return jsonify({"request": number}), 202

    @blueprint.get("/api/restore-check")
    def check() -> ResponseReturnValue:
        """What is still out, and where."""
        one, live = backstage.followed(), backstage.follower.live
        checked = restore_check(
            one.plan, one.board, one.standing, one.violations, one.jobs, live=live
        )
        about = {"session": one.session.id, "opened": one.session.opened}
        began = {"began_wall_us": one.session.began_wall_us}
        return jsonify(about | began | checked.as_json())


def _debrief_routes(blueprint: Blueprint, backstage: Backstage, desk: Desk) -> None:
    @blueprint.get("/debrief")
    @blueprint.get("/debrief/<int:session>")
    def debrief_page(session: int | None = None) -> ResponseReturnValue:
        found = desk.found(session)
        if found is None:
            return render_template("debrief_none.html")
        debrief = desk.debrief(found)
        return render_template("debrief.html", page=page_of(debrief, desk.listed()))

    @blueprint.get("/api/debrief/<int:session>")
    def figures(session: int) -> ResponseReturnValue:
        """The debrief's figures."""
        found = desk.found(session)
        assert found is not None, "a number that no session has raises"
        return jsonify(debrief_view(desk.debrief(found)))

    @blueprint.get("/debrief/<int:session>/entries.csv")
    def entries(session: int) -> ResponseReturnValue:
        found = desk.found(session)
        assert found is not None, "a number that no session has raises"
        return _csv(entries_table(entries_of(backstage.reader, found.id)), session, "entries")

    @blueprint.get("/debrief/<int:session>/steps.csv")
    def steps(session: int) -> ResponseReturnValue:
        return _csv(steps_table(_of(desk, session)), session, "steps")

    @blueprint.get("/debrief/<int:session>/violations.csv")
    def violations(session: int) -> ResponseReturnValue:
        return _csv(violations_table(_of(desk, session)), session, "violations")


def _of(desk: Desk, session: int) -> Debrief:
    found = desk.found(session)
    assert found is not None, "a number that no session has raises"
    return desk.debrief(found)


def _csv(table: Table, session: int, name: str) -> Response:
    response = Response(_bytes(written(table)), mimetype="text/csv")
    file = f"session-{session}-{name}.csv"
    response.headers["Content-Disposition"] = f'attachment; filename="{file}"'
    return response


def _bytes(lines: Iterable[str]) -> Iterator[bytes]:
    """Rows in lumps, so that a long table is not sent line by line."""
    lump: list[str] = []
    for line in lines:
        lump.append(line)
        if len(lump) >= 200:
            yield "".join(lump).encode("utf-8", "replace")
            lump.clear()
    yield "".join(lump).encode("utf-8", "replace")

"""A board host in a thread of this process, and what its database holds."""

from __future__ import annotations

import threading
from typing import Any

from sqlalchemy import select

from club.box import GENEROUS_S
from club.machines import password_of
from firmware_py.club.credentials import Broker
from firmware_py.club.link import Link
from firmware_py.club.topics import EVERYTHING_SAID
from firmware_py.gathering.gatherer import Gatherer
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.tables import ENTRY, GATHERED, INCARNATION, NODE, VIOLATION
from firmware_py.logbook.writing import wall_now_us
from firmware_py.service.trial.mosquitto import Mosquitto


class BoardHost:
    def __init__(self, url: str, broker: Mosquitto, name: str = "board") -> None:
        self.name = name
        self.broker = broker
        self.url = url
        self.engine = open_engine(url)
        self._running: tuple[threading.Event, threading.Thread] | None = None

    def start(self) -> None:
        stop = threading.Event()
        thread = threading.Thread(target=self._run, args=(stop,), daemon=True)
        self._running = stop, thread
        thread.start()

    def stop(self) -> None:
        if self._running is not None:
            stop, thread = self._running
            stop.set()
            thread.join(GENEROUS_S)
            self._running = None

    def close(self) -> None:
        self.stop()
        self.engine.dispose()

    def states(self) -> dict[str, str]:
        """How each box fares, by the board's word."""
        with self.engine.connect() as connection:
            rows = connection.execute(select(NODE.c.name, NODE.c.state))
            return {row.name: row.state for row in rows}

    def entries(self, node: str) -> list[tuple[Any, ...]]:
        """All entries of a box: incarnation, its session, its id there, the times and the line."""
        joined = (
            ENTRY.join(GATHERED, GATHERED.c.session_id == ENTRY.c.session_id)
            .join(INCARNATION, INCARNATION.c.id == GATHERED.c.incarnation)
            .join(NODE, NODE.c.id == INCARNATION.c.node_id)
        )
        wanted = select(
            GATHERED.c.incarnation,
            GATHERED.c.node_session,
            ENTRY.c.seq,
            ENTRY.c.t_us,
            ENTRY.c.wall_us,
            ENTRY.c.line,
        )
        chosen = wanted.select_from(joined).where(NODE.c.name == node).order_by(ENTRY.c.id)
        with self.engine.connect() as connection:
            return [tuple(row) for row in connection.execute(chosen)]

    def violations(self, node: str) -> list[tuple[Any, ...]]:
        """How a box's violations stand here, oldest first."""
        joined = (
            VIOLATION.join(GATHERED, GATHERED.c.session_id == VIOLATION.c.session_id)
            .join(INCARNATION, INCARNATION.c.id == GATHERED.c.incarnation)
            .join(NODE, NODE.c.id == INCARNATION.c.node_id)
        )
        columns = [column for column in VIOLATION.c if column.name != "session_id"]
        wanted = select(GATHERED.c.node_session, *columns).select_from(joined)
        chosen = wanted.where(NODE.c.name == node)
        ordered = chosen.order_by(GATHERED.c.node_session, VIOLATION.c.number)
        with self.engine.connect() as connection:
            return [tuple(row) for row in connection.execute(ordered)]

    def _run(self, stop: threading.Event) -> None:
        engine = open_engine(self.url)
        broker = Broker(
            self.broker.host, self.broker.port, self.name, password_of(self.name), tls=False
        )
        link = Link(broker, [EVERYTHING_SAID])
        gatherer = Gatherer(self.name, "Vale club", engine, link, wall_us=wall_now_us)
        link.start()
        gatherer.run(stop.is_set)
        link.stop()
        engine.dispose()

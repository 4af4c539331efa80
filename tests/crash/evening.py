"""An evening of kills: start, kill at a random instant, judge the files, start again."""

from __future__ import annotations

import contextlib
import random
import sqlite3
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from enum import StrEnum
from pathlib import Path

from firmware_py.layout.reading import parse_layout
from tests.crash import checking
from tests.crash.checking import Broken
from tests.crash.log import Log, has_tables, read
from tests.crash.played import Played, play
from tests.crash.scene import LAYOUT, Scene, until

STARTING_S = (0.0, 1.3)
"""From the first instruction to a session that goes on: imports, pins, replaying the tape."""
WORKING_S = (1.0, 3.2)
SCREEN_ONE_IN = 4
AIMED_S = 0.5
GENEROUS_S = 60.0
SETTLED_S = 0.5


class Aim(StrEnum):
    """What a kill is aimed at, once its random time has come."""

    TIME = "that very instant"
    DELIVERY = "the next entry that a page is given"
    WRITE = "the next write to the log"


@dataclass
class Figures:
    """What an evening, or several, came to."""

    engine_kills: int = 0
    kills_in_start: int = 0
    screen_kills: int = 0
    entries: int = 0
    tape_lines: int = 0
    delivered: int = 0
    connections: int = 0
    violations: int = 0
    requests: int = 0
    answered: int = 0
    unlogged: int = 0
    cut_between: int = 0
    quiet_starts: int = 0
    contacts_agreed: int = 0
    stages_judged: int = 0
    integrity_checks: int = 0
    kinds: Counter[str] = field(default_factory=Counter)
    aims: Counter[str] = field(default_factory=Counter)

    def add(self, other: Figures) -> None:
        """Count another evening in."""
        for name, value in vars(other).items():
            setattr(self, name, getattr(self, name) + value)


@dataclass(frozen=True)
class Kill:
    """The files as the last kill left them."""

    log: Log
    played: Played


class Evening:
    """One logbook, killed again and again. Raises ``Broken`` at the first thing that is wrong."""

    def __init__(self, folder: Path, seed: int, pace: float, say: Callable[[str], None]) -> None:
        self._random = random.Random(seed)
        self.scene = Scene(folder, seed, pace)
        self._say = say
        self._before: Kill | None = None
        self._layout = parse_layout(LAYOUT.read_text("utf-8"), str(LAYOUT))
        self.figures = Figures()

    def run(self, kills: int) -> Figures:
        """Kill so many times, then let it come back in quiet, and judge that too."""
        with contextlib.closing(self.scene):
            self.scene.open()
            for number in range(kills):
                self._kill(number)
            self._come_back_in_quiet()
            self._page_has_all()
        self._count()
        return self.figures

    def _kill(self, number: int) -> None:
        scene, figures = self.scene, self.figures
        if scene.screen.ended:
            scene.screen.start()
        scene.start_engine(crews=True)
        starting = self._random.random() < 0.3
        after_s = self._random.uniform(*(STARTING_S if starting else WORKING_S))
        screen_after_s = self._random.uniform(0, after_s)
        screen_too = self._random.randrange(SCREEN_ONE_IN) == 0
        if screen_too:
            time.sleep(screen_after_s)
            self._kill_screen()
            if self._random.random() < 0.7:
                scene.screen.start()
            time.sleep(after_s - screen_after_s)
        else:
            time.sleep(after_s)
        aim = Aim.TIME if starting else self._random.choice(list(Aim))
        self._take_aim(aim)
        ended = scene.engine.kill()
        if ended is not None:
            raise Broken(f"the engine ended by itself, with exit status {ended}")
        figures.engine_kills += 1
        figures.kills_in_start += starting
        figures.aims[aim] += 1
        too = " and the screen" if screen_too else ""
        self._say(f"kill {number + 1} after {after_s:.2f} s at {aim.value}{too}")
        self._judge(quiet=False)

    def _take_aim(self, aim: Aim) -> None:
        """Wait for the moment to kill; in vain for a while is long enough."""
        scene = self.scene
        end_s = time.monotonic() + AIMED_S
        if aim is Aim.DELIVERY:
            count = scene.page.count
            while scene.page.count == count and time.monotonic() < end_s:
                time.sleep(0.0005)
        elif aim is Aim.WRITE:
            written = _written(scene.logbook)
            while _written(scene.logbook) == written and time.monotonic() < end_s:
                time.sleep(0.0002)
            time.sleep(self._random.choice([0.0, 0.0, 0.001, 0.003]))

    def _kill_screen(self) -> None:
        ended = self.scene.screen.kill()
        if ended is not None:
            raise Broken(f"the screen ended by itself, with exit status {ended}")
        self.figures.screen_kills += 1

    def _come_back_in_quiet(self) -> None:
        """Start without crews, let every contact settle, and stop as a user would."""
        scene = self.scene
        if scene.screen.ended:
            scene.screen.start()
        scene.host.stop()
        beat = self._beat()
        scene.start_engine(crews=False)
        if not until(GENEROUS_S, lambda: self._beat() > beat + 1 or scene.engine.ended):
            raise Broken("the engine did not come back")
        time.sleep(SETTLED_S)
        ended = scene.engine.stop()
        if ended is not None:
            raise Broken(f"the engine ended by itself, with exit status {ended}")
        self.figures.quiet_starts += 1
        self._judge(quiet=True)

    def _beat(self) -> int:
        with contextlib.closing(sqlite3.connect(self.scene.logbook)) as database:
            row = database.execute("SELECT beat FROM pulse WHERE state = 'guarding'").fetchone()
        return int(row[0]) if row else -1

    def _judge(self, *, quiet: bool) -> None:
        path = self.scene.logbook
        delivered = self.scene.page.delivered()  # Before the files: what came is to be there.
        shown = self.scene.page.shown()
        if self.scene.page.garbled:
            raise Broken(f"the stream was garbled: {self.scene.page.garbled}")
        if not has_tables(path):
            return  # The very first start was killed before it had made the tables.
        checking.check_integrity(path)
        self.figures.integrity_checks += 1
        log = read(path)
        checking.check_ids(log)
        checking.check_delivered(log, delivered)
        checking.check_shown(log, *shown)
        if log.session is None:
            return
        played = play(path, log.session, log.layout_toml)
        checking.check_replay(log, played)
        if self._before is not None:
            before = self._before
            checking.check_gone_on(log, before.played, len(before.log.tape_ids))
            checking.check_no_blame(log, before.played)
        checking.check_violations(log, quiet=quiet, played=played)
        checking.check_answers(log, played)
        self.figures.contacts_agreed += checking.check_standing(log, played, quiet=quiet)
        self.figures.stages_judged += checking.check_stages(log, played, self._layout)
        missing = len(played.lines) - len(log.entries)
        if quiet and missing:
            raise Broken(
                f"{missing} entries are missing although the engine was stopped in good order"
            )
        self.figures.unlogged += missing
        self.figures.cut_between += missing > 0
        self._before = Kill(log, played)

    def _page_has_all(self) -> None:
        """The page, which came back after every kill, has been given every entry of the log."""
        assert self._before is not None, "something was judged"
        wanted = len(self._before.log.entries)
        page = self.scene.page
        if not until(GENEROUS_S, lambda: len(page.delivered()) >= wanted):
            raise Broken(f"the page was given {len(page.delivered())} of {wanted} entries")
        checking.check_delivered(self._before.log, page.delivered())

    def _count(self) -> None:
        assert self._before is not None, "something was judged"
        log, figures = self._before.log, self.figures
        figures.entries = len(log.entries)
        figures.tape_lines = len(log.tape_ids)
        figures.delivered = len(self.scene.page.delivered())
        figures.connections = self.scene.page.connections
        figures.violations = len(log.violations)
        figures.requests = len(log.requests)
        figures.answered = sum(request.accepted is not None for request in log.requests)
        figures.kinds = checking.kinds(log)


def _written(logbook: Path) -> int:
    """When the log's WAL was last written to; 0 where there is none."""
    try:
        return logbook.with_name(logbook.name + "-wal").stat().st_mtime_ns
    except OSError:
        return 0

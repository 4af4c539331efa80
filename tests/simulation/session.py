"""One simulated session: a script is played on the real engine, and everything is looked at."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from random import Random

import sqlalchemy

from firmware_py.core.entries import Entry, Violation
from firmware_py.engine import assembly
from firmware_py.layout.model import MADE_AT_REST
from firmware_py.logbook.errors import LogbookError
from firmware_py.tape.reading import TapeOrder

from . import invariants as must
from .acting import Acting
from .disk import Disk
from .expected import standing_violations
from .ground import Ground, OpenViolations
from .hub import BEGAN_US, Hub, Life
from .schedule import SimSchedule
from .script import parsed
from .sometimes import tags_of_entry, tags_of_remark
from .steps import Script
from .surroundings import Manager, around_an_engine
from .threads import virtual
from .watched import Digest, Story, WatchedKeeper, Witness, json_of
from .world import World

SECOND = 1_000_000
COMES_BACK_US = 2 * SECOND
"""How long the supervisor waits before it starts an engine that has failed."""
QUIET_US = 20 * SECOND
"""Longer than any contact takes to settle or chatter takes to end."""
BACK_US = 120 * SECOND
REQUESTS_US = 5 * SECOND
"""Longer than a request waits for an engine that guards."""
FOREMAN_US = 65 * SECOND
TABLES = ("session", "tape", "entry", "violation", "remark", "request", "standing", "pulse")


@dataclass(frozen=True)
class Outcome:
    """What became of a session: its fingerprint, all that was met in it, and what broke."""

    digest: str
    met: frozenset[str]
    broken: str | None
    lives: int
    virtual_us: int
    entries: int
    tape: tuple[str, ...] = ()
    """Of a session that broke: the tape as the engine told it, as JSON Lines."""


class Session:
    """Plays a script once."""

    def __init__(self, script: Script, disk: Disk, folder: Path) -> None:
        self.script = script
        self.layout = parsed(script.toml)
        self.hub = Hub(Random(script.seed + 1))
        self.disk = disk
        self._layout_file = folder / "layout.toml"
        self._layout_file.write_text(script.toml, "utf-8")
        self._logbook = disk.path
        self.digest = Digest(str(folder))
        self.world = World(self.layout, self.hub, self.digest.add)
        self.ground = Ground(self.layout)
        self.witness = Witness(self.hub, self.digest, self._hear, script.room)
        self.witness.began, self.witness.resumed = self._began, self._resumed
        self.manager = Manager()
        self.met: set[str] = set()
        self.broken: str | None = None
        self.life: Life | None = None
        self.plant: assembly.Plant | None = None
        self.keeper: WatchedKeeper | None = None
        self.back_after_us = COMES_BACK_US
        self.raises = 0
        self._lives = 0
        self._ending = False
        self._schedule: SimSchedule | None = None
        self._open = OpenViolations(self.ground)
        self._edges_before = 0
        self._pending = False
        self._unlogged: frozenset[int] = frozenset()

    def play(self) -> Outcome:
        """Play it all."""
        random = Random(self.script.seed + 2)
        with (
            virtual(self.hub, self._idle),
            self.disk.session(self.hub, random, self._committed),
            around_an_engine(self.hub, self.world, self._new_schedule, self._new_keeper),
        ):
            try:
                self._begin_life()
                Acting(self).schedule(self.script.steps)
                last_us = max((step.at_us for step in self.script.steps), default=0)
                self._run(BEGAN_US + last_us + SECOND)
                self._heal()
                self._end()
            except Exception as error:
                self._break((f"{type(error).__name__}: {error}",), "simulation")
            finally:
                self._ending = True
                if self.life is not None:
                    self.hub.kill(self.life)
            self.digest.add(self.hub.now_us, self.hub.points, self.broken)
            self.digest.add_rows(self.disk.look, TABLES)
        self.met |= {f"trouble {trouble.name}" for trouble in self.disk.met}
        entries = sum(len(story.entries) for story in self.witness.stories.values())
        virtual_us = self.hub.now_us - BEGAN_US
        return Outcome(
            str(self.digest),
            frozenset(self.met),
            self.broken,
            self._lives,
            virtual_us,
            entries,
            self._tape_at_the_end() if self.broken else (),
        )

    def _tape_at_the_end(self) -> tuple[str, ...]:
        newest = max(self.witness.stories, default=0)
        story = self.witness.stories.get(newest, Story(0))
        return tuple(json_of(told.line) for told in story.tape)

    # What surrounds an engine.

    def _new_schedule(self) -> SimSchedule:
        self._schedule = SimSchedule(self.hub)
        return self._schedule

    def _new_keeper(self, database: sqlalchemy.Engine) -> WatchedKeeper:
        self.keeper = WatchedKeeper(database, room=self.script.room)
        self.keeper.witness = self.witness
        return self.keeper

    # An engine's life.

    def _begin_life(self) -> None:
        if self.life is None and not self._ending:
            self._lives += 1
            self._edges_before = self.world.edges
            self._pending, self._unlogged = False, frozenset()
            self.back_after_us = COMES_BACK_US
            self.life = self.hub.begin_life("engine", self._live, self._ended)

    def _live(self) -> None:
        try:
            settings = assembly.Settings(
                self._layout_file, str(self._logbook), simulated=True, seed=self.script.seed
            )
            plant = assembly.Plant(settings, self.manager)
            plant.listeners.append(self._listen)
            self.plant = plant
            plant.run()
        except Exception as error:
            self._break(must.i13_only_the_log_stops_an_engine(error, LogbookError))
            self.met.add("engine could not begin")

    def _ended(self) -> None:
        """The process is gone, however it went."""
        self.disk.lose_process()
        self.world.lose_engine()
        if self._schedule is not None:
            self._schedule.drop()
        self._committed()
        story = self.witness.story
        if story is not None:
            self._break(must.i4_nothing_shown_is_lost(story, self.disk.look))
        self._break(must.i3_pins_show_the_core(None, self.world.shown, self.world.safe_shows))
        self.witness.end_life()
        self.life = self.plant = self.keeper = self._schedule = None
        if not self._ending:
            self.hub.at(self.hub.now_us + self.back_after_us, self._begin_life)

    def _began(self, _story: Story) -> None:
        """A session begins: nothing was broken in it yet."""
        self._open = OpenViolations(self.ground)

    def _resumed(self, story: Story) -> None:
        """An engine goes on with a session: note what it may still have to say of before."""
        self.met.add("resumed")
        assert self.plant is not None
        core = self.plant.engine.core
        assert core is not None
        raw, settled = core.raw(), core.settled()
        self._pending = any(raw[name] is not settled[name] for name in raw)
        standing = standing_violations(self.layout, story)
        known = {entry.number for entry in story.entries if isinstance(entry, Violation)}
        self._unlogged = frozenset(standing) - known
        self._open = OpenViolations(self.ground)
        for entry in story.entries:
            if isinstance(entry, Violation):
                self._open.raised(entry)
        for number, (_, _, acknowledged) in standing.items():
            if acknowledged is not None:
                self._open.acknowledged(number)

    # What is looked at.

    def _break(self, found: Iterable[str], name: str | None = None) -> None:
        """Keep the first thing that is broken."""
        for what in found:
            if self.broken is None:
                label = name or getattr(found, "__name__", "invariant")
                self.broken = f"{label}: {what}"

    def _idle(self) -> None:
        """The engine has done all that it was given: judge what it shows."""
        plant = self.plant
        if plant is None or self.broken:
            return
        core, shown = plant.engine.core, self.world.shown
        self._break(must.i3_pins_show_the_core(core, shown, self.world.safe_shows))
        if core is None:
            return
        self._hear_acknowledgements()
        self._break(must.i1_green_is_true(self.ground, core, self._open.count, shown))
        self._break(must.i2_bolts_and_power_are_safe(self.ground, core, shown))
        if self.witness.trouble:
            self._break((self.witness.trouble,), "i9_raw_readings_go_first")

    def _hear_acknowledgements(self) -> None:
        for number in self.witness.acknowledgements:
            self._open.acknowledged(number)
        self.witness.acknowledgements.clear()

    def _hear(self, entry: Entry) -> None:
        """An entry was told to the logbook."""
        self.met.update(tags_of_entry(entry))
        if isinstance(entry, Violation):
            self._open.raised(entry)
            if entry.number not in self._unlogged:
                moved = self.world.edges != self._edges_before or self.witness.orders > 0
                self._break(
                    must.i6_restart_blames_nobody(entry, moved=moved, pending=self._pending)
                )

    def _listen(self, _entry: Entry) -> None:
        """A listener of the engine's."""
        if self.raises:
            self.raises -= 1
            self.met.add("listener raised")
            raise RuntimeError("a listener's own trouble")

    def _committed(self) -> None:
        """Judge what was just committed: it has to be what happened."""
        story = self.witness.story
        if story is None or self.broken:
            return
        self._break(must.i4_log_is_a_prefix(story, self.disk.look))
        self._break(must.i9_memory_is_bounded(story, self.script.room))

    # Its course.

    def _run(self, until_us: int) -> None:
        self.hub.run(until_us, lambda: self.broken is not None)

    def _heal(self) -> None:
        """Mend everything, put everything back, and let it be quiet for a while."""
        self.disk.trouble = None
        self.raises = 0
        self.back_after_us = SECOND
        if self.life is not None:
            self.life.dies_in, self.life.dies_at_commit = None, False
        self._await_guarding()
        self._run(self.hub.now_us + REQUESTS_US)  # They may still lose or move a contact.
        self.world.mend()
        self._await_guarding()  # It may have been told to stop before.
        if not self._is_guarding():
            self._break(("no engine guards, though all is mended",), "i10")
            return
        self._run(self.hub.now_us + QUIET_US)
        self._judge_knowledge()
        for contact in self.layout.contacts:
            self.world.move(contact.name, contact.role in MADE_AT_REST)
        fed = self.manager.fed
        self._run(self.hub.now_us + QUIET_US)
        plant = self.plant
        core = plant.engine.core if plant is not None else None
        if core is not None and any(True for _ in must.i10_foremen_answer(self.layout, core)):
            self._run(self.hub.now_us + FOREMAN_US)
        if not self.broken:
            self._judge_knowledge()
            self._judge_healing(fed)

    def _judge_knowledge(self) -> None:
        core = self.plant.engine.core if self.plant is not None else None
        if core is not None:
            self._break(must.i10_core_knows_how_all_stands(core, self.world.levels()))

    def _await_guarding(self) -> None:
        self.hub.run(self.hub.now_us + BACK_US, lambda: bool(self.broken) or self._is_guarding())

    def _is_guarding(self) -> bool:
        return self.plant is not None and self.plant.began.is_set()

    def _judge_healing(self, fed: int) -> None:
        if not self._is_guarding():
            self._break(("the engine went, though nothing was wrong",), "i10")
            return
        plant, keeper, story = self.plant, self.keeper, self.witness.story
        assert plant is not None
        assert keeper is not None
        assert story is not None
        self.hub.run(
            self.hub.now_us + 5 * SECOND,
            lambda: bool(self.broken) or keeper.health().queued == 0,
        )
        core = plant.engine.core
        assert core is not None
        health = keeper.health()
        self._break(must.i10_faults_have_ended(core))
        self._break(must.i10_log_has_caught_up(story, health.queued, health.last_error))
        self._break(must.i10_outputs_as_of_a_fresh_core(self.layout, story, core))
        self._break(must.i10_foremen_answer(self.layout, core))
        self._break(must.i9_drops_are_told(self.witness.drops, self._remarks_of_this_life()))
        if self.manager.fed == fed:
            self._break(("the watchdog is not fed, though all is mended",), "i10")

    def _remarks_of_this_life(self) -> list[str]:
        """As the log has them."""
        rows = self.disk.look.execute("SELECT text FROM remark ORDER BY id").fetchall()
        texts = [str(row[0]) for row in rows]
        for text in texts:
            self.met.update(tags_of_remark(text))
        begins = [
            n
            for n, text in enumerate(texts)
            if text.startswith(("The session began", "Between sessions", "The engine is back"))
        ]
        return texts[begins[-1] if begins else 0 :]

    def _end(self) -> None:
        """End the session, and judge the log as a whole."""
        if self.broken or self.plant is None:
            return
        self._ending = True
        self.plant.end_session()
        self.hub.run(self.hub.now_us + 60 * SECOND, lambda: self.life is None)
        if self.life is not None:
            self._break(("the session does not end",), "i10")
        look = self.disk.look
        for story in self.witness.stories.values():
            self._break(must.i5_tape_replays(self.layout, self.disk.screen, story))
            self._break(must.i7_numbers_have_no_gaps(story, look))
            self._break(must.i8_time_never_falls(story))
            self._break(must.i11_board_agrees(self.layout, story, look))
            if any(isinstance(told.line, TapeOrder) for told in story.tape):
                self.met.add("order on the tape")
        self._break(must.i12_requests_are_answered(look))
        if len(self.witness.stories) > 1:
            self.met.add("begun anew after a stop")
        if any(story.has_gap for story in self.witness.stories.values()):
            self.met.add("readings dropped")

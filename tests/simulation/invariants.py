"""What must hold, whatever happens: one function for each, which says what is wrong or nothing.

Rules are read from the rulebook again here, from settled contacts alone, and not asked of the
core's own machines.
"""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from typing import Any

from sqlalchemy import Engine as Database

from firmware_py.core.core import Core
from firmware_py.core.entries import Entry, Violation
from firmware_py.core.names import Fault, Foreman, Rule, Shows, Stage
from firmware_py.engine.resuming import tape_of
from firmware_py.layout.model import (
    FOREMAN,
    ForemanKind,
    Layout,
    Spur,
)
from firmware_py.logbook.tapes import tape_lines
from firmware_py.tape.lines import text_of
from firmware_py.tape.replay import Player, replay

from .expected import standing_violations
from .ground import Ground, Settled, is_off, may_unlock, say
from .watched import Story, Told

Shown = Mapping[tuple[str, str], Shows]
Found = Iterator[str]

DEADLINES = frozenset(
    (
        Rule.GAPPED_POINTS,
        Rule.LEFT_LINED,
        Rule.LEFT_UNLOCKED,
        Rule.NOT_RETURNED,
        Rule.LEFT_UNCHOCKED,
    )
)
"""Rules that are raised by time alone."""
DROPPED = re.compile(r"(\d+) raw readings were dropped")


def i1_green_is_true(ground: Ground, core: Core, open_at: Mapping[str, int], shown: Shown) -> Found:
    """Green is steady only if secured, with no fault and nothing unacknowledged there."""
    settled = core.settled()
    faults = {at for _, at in core.faults()}
    for switch in ground.layout.switches:
        if shown.get((switch.id, "green")) is not Shows.STEADY:
            continue
        normal, reverse = settled[switch.normal.name], settled[switch.reverse.name]
        if switch.hasp is None:  # Without a lock it keeps its stage while between.
            lies_right = reverse is False and normal is not None
        else:
            lies_right = settled[switch.hasp.name] is True and (normal, reverse) == (True, False)
        if not lies_right or core.stages()[switch.id] is not Stage.SECURED:
            yield f"green at {switch.id}, which is not secured"
        if open_at[switch.id]:
            yield f"green at {switch.id} with a violation unacknowledged"
        if faults & {switch.id, *ground.contacts_of(switch.id)}:
            yield f"green at {switch.id} with a fault"


def i2_bolts_and_power_are_safe(ground: Ground, core: Core, shown: Shown) -> Found:
    """A bolt is drawn, and power on, only as section 9 has it, and never on an unknown contact."""
    settled, foremen = core.settled(), core.foremen()
    faults = {at for _, at in core.faults()}
    for switch in ground.layout.switches:
        if shown.get((switch.id, "bolt")) is Shows.DRAWN:
            own = (switch.id, *ground.contacts_of(switch.id))
            if faults.intersection(own):
                yield f"bolt drawn at {switch.id} on a fault"
            spurs = ground.spurs_at[switch.id]
            secured = core.stages()[switch.id] is Stage.SECURED
            if (
                secured
                and spurs
                and not any(may_unlock(ground, s, settled, foremen) for s in spurs)
            ):
                yield f"bolt drawn at {switch.id}, and something before it is not off"
    for spur in ground.layout.spurs:
        if shown.get((spur.id, "power")) is Shows.ON:
            yield from _power(ground, core, spur, settled, foremen)


def _power(
    ground: Ground, core: Core, spur: Spur, settled: Settled, foremen: Mapping[str, Foreman]
) -> Found:
    if core.stages()[spur.switch] not in (Stage.LINED, Stage.IN_USE):
        yield f"power on at {spur.id}, which is not lined"
    for step in spur.opening:
        if not is_off(ground, spur, step, settled, foremen):
            yield f"power on at {spur.id}, and {step} is not off"
        if step != FOREMAN and None in (settled[name] for name in say(ground, step)):
            yield f"power on at {spur.id}, and {step} is not known"


def i3_pins_show_the_core(core: Core | None, shown: Shown, safe: Shown) -> Found:
    """Pins show what the core says after every step, and the safe state while no engine runs."""
    wanted = safe if core is None else core.outputs()
    for key, shows in wanted.items():
        if shown[key] is not shows:
            yield f"{key} shows {shown[key]}, and {shows} was wanted"


def i4_log_is_a_prefix(story: Story, look: sqlite3.Connection) -> Found:
    """The committed log is always a prefix of what happened, and no event in it is torn apart."""
    last = -1
    for kind, rows in (("tape", _tape_rows(story, look)), ("entry", _entry_rows(story, look))):
        for row in rows:
            story.rows_seen[kind] = row[0]
            told = story.next_of(kind)
            if told is None:
                yield f"the log has a line of its {kind} that never happened: {row}"
                return
            if row[1:] != _as_row(told):
                yield f"the log has {row[1:]}, and it was {_as_row(told)}"
            told.committed = True
            last = max(last, story.next_at[kind])
    for told in story.told[min(story.next_at.values()) : max(0, last)]:
        if not told.committed and not told.dropped:
            yield f"the log lacks {_as_row(told)}, and has what came later"
    after = next((told for told in story.told[last + 1 :] if not told.dropped), None)
    if last >= 0 and after is not None and 0 < after.event == story.told[last].event:
        yield f"an event is torn apart: {_as_row(story.told[last])} without {_as_row(after)}"


def _as_row(told: Told) -> tuple[object, ...]:
    if told.values is not None:
        return told.values
    assert told.entry is not None
    return told.entry.t_us, text_of(told.entry)


def _tape_rows(story: Story, look: sqlite3.Connection) -> list[tuple[Any, ...]]:
    found = look.execute(
        "SELECT id, t_us, contact, made, command, spur, violation, cars FROM tape"
        " WHERE session_id = ? AND id > ? ORDER BY id",
        (story.session, story.rows_seen["tape"]),
    )
    return [(*row[:3], None if row[3] is None else bool(row[3]), *row[4:]) for row in found]


def _entry_rows(story: Story, look: sqlite3.Connection) -> list[tuple[Any, ...]]:
    found = look.execute(
        "SELECT id, t_us, line FROM entry WHERE session_id = ? AND id > ? ORDER BY id",
        (story.session, story.rows_seen["entry"]),
    )
    return found.fetchall()


def i4_nothing_shown_is_lost(story: Story, look: sqlite3.Connection) -> Found:
    """What a page could have shown before an engine went is in the log after it."""
    for kind in ("tape", "entry"):
        held = look.execute(
            f"SELECT COUNT(*) FROM {kind} WHERE session_id = ?", (story.session,)
        ).fetchone()[0]
        seen = sum(
            told.committed and (told.values is not None) == (kind == "tape") for told in story.told
        )
        if held != seen:
            yield f"{seen} rows of {kind} were committed, and {held} are there"


def i5_tape_replays(layout: Layout, database: Database, story: Story) -> Found:
    """The saved tape replays to exactly the entries that were logged."""
    if story.has_gap:
        return  # The logbook says so, and what it dropped can't be replayed.
    replayed = [text_of(e) for e in replay(layout, tape_of(tape_lines(database, story.session)))]
    logged = [text_of(entry) for entry in story.entries]
    if replayed != logged:
        at = next(
            (n for n, (a, b) in enumerate(zip(replayed, logged, strict=False)) if a != b),
            min(len(replayed), len(logged)),
        )
        yield (
            f"session {story.session}: entry {at} of {len(logged)} differs in the replay:"
            f" {replayed[at : at + 2]} and not {logged[at : at + 2]}"
        )


def i6_restart_blames_nobody(entry: Entry, *, moved: bool, pending: bool) -> Found:
    """A violation after a restart comes of something that moved, or of time: not of coming back.

    ``moved``: a contact moved or an order came since. ``pending``: one was settling as the
    engine went.
    """
    if isinstance(entry, Violation) and entry.rule not in DEADLINES and not moved and not pending:
        yield f"a restart raised {text_of(entry)}"


def i7_numbers_have_no_gaps(story: Story, look: sqlite3.Connection) -> Found:
    """Violations are numbered from 1 without gaps, and each has its row."""
    numbers = [entry.number for entry in story.entries if isinstance(entry, Violation)]
    rows = look.execute(
        "SELECT number FROM violation WHERE session_id = ? ORDER BY number", (story.session,)
    )
    for held in (numbers, [row[0] for row in rows]):
        if held != list(range(1, len(numbers) + 1)):
            yield f"session {story.session}: violations are numbered {held}"


def i8_time_never_falls(story: Story) -> Found:
    """Session time never falls: along the tape, and along the entries."""
    for times in (
        [told.values[0] for told in story.told if told.values is not None],
        [entry.t_us for entry in story.entries],
    ):
        for before, after in pairwise(times):
            if after < before:
                yield f"time falls from {before} to {after}"
                return


def i9_drops_are_told(drops: int, remarks: Sequence[str]) -> Found:
    """Raw readings alone are dropped, only for want of room, and all that were are told of."""
    told = sum(int(found.group(1)) for text in remarks if (found := DROPPED.search(text)))
    if told != drops:
        yield f"{drops} readings were dropped, and {told} told of"


def i9_memory_is_bounded(story: Story, room: int) -> Found:
    """No more raw readings wait to be written than there is room for."""
    waiting = sum(
        told.values is not None and told.values[3] is None
        for told in story.told[min(story.next_at.values()) :]
        if not told.committed and not told.dropped
    )
    if waiting > room:
        yield f"{waiting} readings wait, with room for {room}"


def i10_faults_have_ended(core: Core) -> Found:
    """Once everything is mended and has been quiet, no fault stands."""
    for fault, at in core.faults():
        if fault is not Fault.POINTS_DISPUTED:
            yield f"{fault} at {at} has not ended"


def i10_core_knows_how_all_stands(core: Core, levels: Settled) -> Found:
    """Once everything is mended and has been quiet, the core believes what is so."""
    settled = core.settled()
    for name, made in levels.items():
        if settled[name] is not made:
            yield f"{name} is believed {settled[name]}, and is {made}"


def i10_log_has_caught_up(story: Story, queued: int, error: str | None) -> Found:
    """Once the database is well again, everything that was told is in it."""
    if error is not None:
        yield f"the logbook is still in trouble: {error}"
    if queued:
        yield f"{queued} jobs still wait"
    for told in story.told:
        if not told.committed and not told.dropped:
            yield f"the log still lacks {_as_row(told)}"
            return


def i10_outputs_as_of_a_fresh_core(layout: Layout, story: Story, core: Core) -> Found:
    """Outputs equal those of a fresh core that is given the same tape."""
    if story.broken_off:
        return
    player = Player(layout)
    for told in story.tape:
        player.play(told.line)
    player.finish()
    assert player.core is not None
    player.core.advance(core.now_us)
    if player.core.outputs() != core.outputs():
        yield "a fresh core of the same tape shows something else"


def i10_foremen_answer(layout: Layout, core: Core) -> Found:
    """An automatic foreman who was asked has answered by now."""
    for spur in layout.spurs:
        if spur.foreman is ForemanKind.AUTO and core.foremen()[spur.id] is Foreman.ASKED:
            yield f"the foreman of {spur.id} was asked, and never answers"


def i11_board_agrees(layout: Layout, story: Story, look: sqlite3.Connection) -> Found:
    """How often each violation came, and whether it is acknowledged, is in the log as it is.

    Of a session that nothing has ended, the last may have come too late for its tape.
    """
    [ended_us] = look.execute(
        "SELECT ended_t_us FROM session WHERE id = ?", (story.session,)
    ).fetchone()
    if story.has_gap or ended_us is None:
        return
    expected = standing_violations(layout, story, ended_us)
    rows = look.execute(
        "SELECT number, times, last_t_us, acknowledged_t_us FROM violation WHERE session_id = ?",
        (story.session,),
    )
    held = {number: list(rest) for number, *rest in rows}
    for number, wanted in expected.items():
        if held.get(number) != wanted:
            yield (
                f"session {story.session}: violation {number} is logged as {held.get(number)}"
                f" (times, last, acknowledged) and is {wanted}"
            )


def i12_requests_are_answered(look: sqlite3.Connection) -> Found:
    """Every request that was left is answered."""
    for row in look.execute("SELECT id, kind, command FROM request WHERE answered_wall_us IS NULL"):
        yield f"request {row} has no answer"


def i13_only_the_log_stops_an_engine(error: BaseException, allowed: type[BaseException]) -> Found:
    """The engine ends by itself only where its log can't be opened as it begins."""
    if not isinstance(error, allowed):
        yield f"the engine died of {error!r}"

"""What must hold of a logbook's files after a kill, and after what was killed has come back.

Every check raises ``Broken``, whose text says what was found and what would have been right.
Nothing here asks the engine or the screen anything: only files, and what a page was given.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from firmware_py.core.names import Rule, Stage
from firmware_py.layout.model import Layout, Lock
from tests.crash.listening import Delivered
from tests.crash.log import Log, integrity
from tests.crash.played import Played

LAG_US = 1_000_000
"""A settling is written after the reading that brought it to light; a kill may fall between."""
BLAMELESS_US = 60_000
"""So long after a session goes on, whatever settles was found so and not done: contacts settle
within 40 ms in the harness's layout, and no crew touches anything for longer."""
OF_A_DEADLINE = {Rule.LEFT_LINED, Rule.LEFT_UNLOCKED, Rule.NOT_RETURNED, Rule.LEFT_UNCHOCKED}
"""Rules that a wait breaks. One that ran before the stop goes on, and may rightly run out."""

UNLOCKED = frozenset({Stage.UNLOCKED, Stage.LINED, Stage.IN_USE, Stage.RESTORED})


class Broken(AssertionError):  # noqa: N818 - it is a finding, not a defect of the harness
    """Something that must hold does not."""


def check_integrity(path: Path) -> None:
    """SQLite finds nothing wrong with the file."""
    found = integrity(path)
    if found != "ok":
        raise Broken(f"integrity_check: {found}")


def check_ids(log: Log) -> None:
    """Ids of entries and of tape lines count up by one; session time never falls."""
    for name, ids in (("entry", [e.id for e in log.entries]), ("tape", list(log.tape_ids))):
        if ids != list(range(1, len(ids) + 1)):
            odd = next((a, b) for a, b in zip([0, *ids], ids, strict=False) if b != a + 1)
            raise Broken(f"{name} ids are not 1, 2, 3 and so on: {odd[1]} comes after {odd[0]}")
    for before, after in zip(log.entries, log.entries[1:], strict=False):
        if after.t_us < before.t_us:
            raise Broken(f"session time falls from entry {before.id} to entry {after.id}")
    if log.sessions > 1:
        raise Broken(f"there are {log.sessions} sessions; the first should have gone on")


def check_delivered(log: Log, delivered: Sequence[Delivered]) -> None:
    """Every entry that a page was given is in the log, with the same line, and came once."""
    logged = {entry.id: entry.line for entry in log.entries}
    for entry in delivered:
        if entry.id not in logged:
            raise Broken(f"entry {entry.id} was delivered and is not in the log: {entry.line}")
        if json.loads(logged[entry.id]) != entry.line:
            raise Broken(
                f"entry {entry.id} was delivered as {entry.line} and logged as {logged[entry.id]}"
            )
    ids = [entry.id for entry in delivered]
    if ids != list(range(1, len(ids) + 1)):
        wrong = next(place for place, one in enumerate(ids, 1) if one != place)
        raise Broken(
            f"the stream left out or repeated entries: {ids[max(0, wrong - 4) : wrong + 3]}"
        )


def check_shown(log: Log, violations: Iterable[int], acknowledged: Iterable[int]) -> None:
    """Every violation that a page showed is in the log, and so is its acknowledgement."""
    lost = sorted(set(violations) - set(log.violations))
    if lost:
        raise Broken(f"violations were shown and are not in the log: {lost}")
    forgotten = [number for number in acknowledged if not log.violations[number].acknowledged]
    if forgotten:
        raise Broken(f"violations were shown as acknowledged, and the log forgot it: {forgotten}")


def check_replay(log: Log, played: Played) -> None:
    """What is logged is the beginning of what the saved tape gives."""
    logged = [entry.line for entry in log.entries]
    if logged != list(played.lines[: len(logged)]):
        same = _same(logged, played.lines)
        raise Broken(
            f"after {same} equal entries the log has {logged[same : same + 3]} and the replayed "
            f"tape {list(played.lines[same : same + 3])}"
        )


def check_gone_on(log: Log, before: Played, lines_before: int) -> None:
    """Whatever has come back first wrote down exactly what the tape gave at the kill.

    Before that is done nothing else is written, so that a log that is still too short may have
    no new line in its tape either.
    """
    logged = [entry.line for entry in log.entries]
    wanted = before.lines
    if logged[: len(wanted)] != list(wanted[: len(logged)]):
        same = _same(logged, wanted)
        raise Broken(
            f"after {same} equal entries the session went on with {logged[same : same + 3]}, "
            f"where the tape at the kill gave {list(wanted[same : same + 3])}"
        )
    if len(logged) < len(wanted) and len(log.tape_ids) > lines_before:
        raise Broken(
            f"the tape grew from {lines_before} lines to {len(log.tape_ids)} before the log had "
            f"all {len(wanted)} entries of the kill: it has {len(logged)}"
        )


def check_no_blame(log: Log, before: Played, until_us: int = BLAMELESS_US) -> None:
    """Nobody is blamed for contacts that were found changed as the session went on."""
    for entry in log.entries[len(before.lines) :]:
        if entry.what != "violation" or entry.t_us > before.end_us + until_us:
            continue
        rule = json.loads(entry.line)["rule"]
        if rule not in OF_A_DEADLINE:
            raise Broken(
                f"{(entry.t_us - before.end_us) / 1000:.0f} ms after the session went on, "
                f"somebody was blamed: {entry.line}"
            )


def check_violations(log: Log, *, quiet: bool, played: Played) -> None:
    """The table of violations tells the same as the entries; ``quiet``: as the core itself."""
    numbers = [json.loads(e.line)["number"] for e in log.entries if e.what == "violation"]
    if numbers != sorted(log.violations) or numbers != list(range(1, len(numbers) + 1)):
        raise Broken(f"violations logged as entries: {numbers}; as rows: {sorted(log.violations)}")
    early = [
        n for n, row in log.violations.items() if row.acknowledged and n not in played.acknowledged
    ]
    if early:
        raise Broken(f"acknowledged in the log, but no order on the tape says so: {early}")
    if not quiet:
        return
    late = sorted(n for n in played.acknowledged if not log.violations[n].acknowledged)
    if late:
        raise Broken(f"the core takes violations as acknowledged that the log has as open: {late}")
    times = {n: (row.times, played.times.get(n, 1)) for n, row in log.violations.items()}
    wrong = {n: pair for n, pair in times.items() if pair[0] != pair[1]}
    if wrong:
        raise Broken(f"violations came as often as (log, core): {wrong}")


def check_answers(log: Log, played: Played) -> None:
    """An acknowledgement that was answered as accepted is done, and is on the tape."""
    for request in log.requests:
        if request.accepted and request.command == "acknowledge":
            row = log.violations.get(request.violation or 0)
            if row is None or not row.acknowledged or row.number not in played.acknowledged:
                raise Broken(
                    f"request {request.id} was accepted, and the log does not have it done"
                )


def check_standing(log: Log, played: Played, *, quiet: bool) -> int:
    """Contacts stand in the log as the core, rebuilt from the tape, believes; counts them.

    Where the engine was killed, one contact's last reading and settlings of the last moment may
    not have been written down yet. Nor does the tape know of time in which nothing came: a contact
    may have settled after the tape's last moment, as the core would have it do next. Where it is
    ``quiet`` nothing may differ.
    """
    raw, settled = played.core.raw(), played.core.settled()
    if quiet and set(log.standing) != set(raw):
        raise Broken(f"these contacts do not stand in the log: {set(raw) - set(log.standing)}")
    agree = 0
    for name, stands in log.standing.items():
        lagging = not quiet and played.last_read == (name, stands.raw)
        if stands.raw is not raw[name] and not lagging:
            raise Broken(f"{name} stands as {stands.raw} in the log; the tape ends at {raw[name]}")
        settled_us = played.settled_at.get(name, -LAG_US - 1)
        lately = not quiet and settled_us >= played.end_us - LAG_US
        next_ = not quiet and stands.settled is stands.raw is raw[name]
        if stands.settled is not settled[name] and not lately and not next_:
            raise Broken(
                f"{name} is settled at {stands.settled} in the log, {settled[name]} in the core"
            )
        agree += stands.settled is settled[name]
    return agree


def check_stages(log: Log, played: Played, layout: Layout) -> int:
    """Each switch's logged stage is one that its contacts allow; counts the switches judged.

    Only where the log holds all that the tape gives, and for switches whose contacts stand in
    the log as the core believes.
    """
    if len(log.entries) != len(played.lines):
        return 0
    logged = last_words(log)
    core_stages, core_phases = played.core.stages(), played.core.phases()
    settled = played.core.settled()
    judged = 0
    for switch in layout.switches:
        contacts = [c.name for c in layout.contacts if c.thing == switch.id]
        stage = Stage(logged["stage"].get(switch.id, core_stages[switch.id]))
        if stage is not core_stages[switch.id]:
            raise Broken(
                f"{switch.id} is {stage} in the log and {core_stages[switch.id]} in the core"
            )
        known = all(name in log.standing for name in contacts)
        if not known or any(log.standing[name].settled is not settled[name] for name in contacts):
            continue
        stands = {name.partition(".")[2]: log.standing[name].settled for name in contacts}
        if stage not in allowed(stands, locked=switch.lock is not Lock.NONE):
            raise Broken(f"{switch.id} is logged as {stage}, with its contacts at {stands}")
        judged += 1
    for spur, (phase, step) in core_phases.items():
        said = logged["phase"].get(spur)
        if said is not None and said != [phase.value, step]:
            raise Broken(f"{spur} is {said} in the log and {phase}, {step} in the core")
    return judged


def last_words(log: Log) -> dict[str, dict[str, Any]]:
    """The last stage of each switch, and the last phase and next step of each spur."""
    words: dict[str, dict[str, Any]] = {"stage": {}, "phase": {}}
    for entry in log.entries:
        if entry.what == "stage":
            line = json.loads(entry.line)
            words["stage"][line["switch"]] = line["stage"]
        elif entry.what == "phase":
            line = json.loads(entry.line)
            words["phase"][line["spur"]] = [line["phase"], line["next"]]
    return words


def allowed(stands: Mapping[str, bool | None], *, locked: bool) -> frozenset[Stage]:
    """The stages that a switch may be in, from its settled contacts alone.

    From the rulebook's table of stages (section 4), by another way than the core's: a hasp that
    is closed says secured only over points that lie normal, and irregular else; an open one says
    unlocked or restored over normal points, lined or in use over reverse ones, and any of the four
    over points that lie neither way; one that is unknown never says secured. A switch without a
    lock keeps whichever of its three stages it had while its points lie neither way.
    """
    normal, reverse = stands["normal"], stands["reverse"]
    over_main = normal is True and reverse is False
    over_spur = normal is False and reverse is True
    if not locked:
        if over_main:
            return frozenset({Stage.SECURED})
        lined = frozenset({Stage.LINED, Stage.IN_USE})
        return lined if over_spur else lined | {Stage.SECURED}
    hasp = stands["hasp"]
    if hasp is None:
        return UNLOCKED | {Stage.IRREGULAR}
    if hasp:
        return frozenset({Stage.SECURED if over_main else Stage.IRREGULAR})
    if over_main:
        return frozenset({Stage.UNLOCKED, Stage.RESTORED})
    return frozenset({Stage.LINED, Stage.IN_USE}) if over_spur else UNLOCKED


def kinds(log: Log) -> Counter[str]:
    """How many entries of each kind there are."""
    return Counter(entry.what for entry in log.entries)


def _same(one: Sequence[str], other: Sequence[str]) -> int:
    pairs = zip(one, other, strict=False)
    return next((place for place, (a, b) in enumerate(pairs) if a != b), min(len(one), len(other)))

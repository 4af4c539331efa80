"""The evening in plain words: what went well, what to talk about, what to mend. No blame."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from web.debrief.evening import KeyOut
from web.debrief.naming import step_name, violation_title
from web.debrief.study import Debrief, RuleCount
from web.debrief.times import lasting
from web.live.faults import fault_title

SLOW_FACTOR = 2.0
SLOW_BY_US = 20_000_000
ENOUGH_BEFORE = 3
"""A step is told of as slow only against so many earlier ones, and if it is so much slower."""
MOST_SLOW, MOST_RULES = 3, 4


@dataclass(frozen=True, slots=True)
class Summary:
    """Sentences. ``lead`` says what kind of evening it was."""

    lead: str
    well: tuple[str, ...]
    talk: tuple[str, ...]
    mend: tuple[str, ...]


def summary_of(debrief: Debrief) -> Summary:
    """Put it into words."""
    talk = (*_rules(debrief), *_waiting_long(debrief), *_slow(debrief), *_left(debrief))
    return Summary(_lead(debrief), tuple(_well(debrief)), talk, tuple(_mend(debrief)))


def counted(number: int, one: str, many: str | None = None) -> str:
    """A number with its noun.

    >>> counted(1, "spur"), counted(3, "pass", "passes")
    ('1 spur', '3 passes')
    """
    return f"{number} {one if number == 1 else many or one + 's'}"


def _lead(debrief: Debrief) -> str:
    evening = debrief.evening
    so_far = "" if evening.ended else " so far"
    spurs = sum(any(one.worked for one in at.rounds) for at in evening.work.values())
    if not evening.rounds:
        return f"{lasting(evening.length_us)}{so_far}, and no spur was worked yet."
    again = f", {evening.rounds} times in all" if evening.rounds != spurs else ""
    cars = sum(debrief.crews.cars.values())
    moved = f", {counted(cars, 'car')} on the sheets of finished stops" if cars else ""
    where = counted(spurs, "spur")
    return f"{lasting(evening.length_us)}{so_far}: {where} worked{again}{moved}."


def _well(debrief: Debrief) -> Iterator[str]:
    evening = debrief.evening
    if evening.rounds and not evening.violations:
        yield "Not one rule was broken."
    elif debrief.clean_rounds:
        clean, rounds = debrief.clean_rounds, evening.rounds
        if clean == rounds:
            yield "Whenever a train went in, no rule was broken at its spur."
        else:
            yield f"{clean} of the {rounds} times that a train went in, no rule was broken there."
    percent = debrief.whole.percent
    if percent is not None and percent <= debrief.ceiling:
        ceiling = f"within your ceiling of {debrief.ceiling} %"
        yield f"Crews waited {percent:.0f} % of their time, {ceiling}."
    limited = [one for one in evening.passes if debrief.limit(one.trap) is not None]
    if limited and not any(debrief.too_fast(one) for one in limited):
        passes = counted(len(limited), "pass", "passes")
        yield f"{passes} through the speed traps, none over a limit."
    if evening.violations and all(one.acknowledged_t_us is not None for one in evening.violations):
        yield "Every violation was seen and acknowledged."
    if debrief.plan.layout.keys and not evening.keys_out:
        yield "Every key is on its hook." if not evening.ended else "Every key came home."
    if evening.rounds and not evening.faults:
        yield "The wiring had no fault."


def _rules(debrief: Debrief) -> Iterator[str]:
    for count in debrief.rules[:MOST_RULES]:
        yield _rule(count, debrief)
    rest = debrief.rules[MOST_RULES:]
    if rest:
        more = counted(sum(one.violations for one in rest), "more violation")
        yield f"{more} of {counted(len(rest), 'other rule')}; see the list."
    left = sum(one.unacknowledged for one in debrief.rules)
    if left:
        yield f"{counted(left, 'violation')} not acknowledged yet."


def _rule(count: RuleCount, debrief: Debrief) -> str:
    places: Counter[str] = Counter()
    for one in debrief.evening.violations:
        if one.rule == count.rule:
            places[one.spur or one.at] += 1
    (place, most), *others = places.most_common()
    name = debrief.plan.name(place)
    where = f"at {name}" if not others else f"{most} of them at {name}"
    times = "once" if count.violations == 1 else f"{count.violations} times"
    again = count.times - count.violations
    repeats = f" (and {again} more in quick succession)" if again else ""
    return f"{violation_title(count.rule)}: {times}, {where}{repeats}."


def _waiting_long(debrief: Debrief) -> Iterator[str]:
    whole = debrief.whole
    percent = whole.percent
    if percent is None or percent <= debrief.ceiling:
        return
    longer = "foremen" if whole.foreman_us >= whole.brake_test_us else "brake tests"
    yield (
        f"Crews waited {percent:.0f} % of their time, above your ceiling of "
        f"{debrief.ceiling} %; most of it for {longer}."
    )


def _slow(debrief: Debrief) -> Iterator[str]:
    found = []
    for one in debrief.steps:
        before = one.before
        if before is None or before.count < ENOUGH_BEFORE or one.step == "work":
            continue
        more_us = one.now_spread.median - before.median
        if more_us >= SLOW_BY_US and one.now_spread.median >= SLOW_FACTOR * before.median:
            found.append((more_us, one))
    for _, one in sorted(found, key=lambda each: -each[0])[:MOST_SLOW]:
        name = step_name(debrief.plan, one.spur, one.phase, one.step)
        now, usual = lasting(one.now_spread.median), lasting(one.before.median if one.before else 0)
        yield f"{debrief.plan.name(one.spur)}, {name}: {now}, where {usual} is usual here."


def _left(debrief: Debrief) -> Iterator[str]:
    evening = debrief.evening
    if evening.keys_out:
        yield _keys(evening.keys_out, debrief)
    refused = Counter(one.command for one in evening.refusals)
    if refused:
        [(most, _), *_] = refused.most_common()
        total = sum(refused.values())
        them = "it" if total == 1 else "they"
        said = f"{counted(total, 'command')} came when {them} made no sense"
        yield f"{said}, mostly {most}." if total > 1 else f"{said}: {most}."


def _keys(keys: Sequence[KeyOut], debrief: Debrief) -> str:
    out = [debrief.plan.name(one.key) for one in keys if one.known]
    lost = [debrief.plan.name(one.key) for one in keys if not one.known]
    parts = []
    if out:
        parts.append(f"Not on {'its hook' if len(out) == 1 else 'their hooks'}: {', '.join(out)}")
    if lost:
        parts.append(f"{'not' if parts else 'Not'} known to be home: {', '.join(lost)}")
    return "; ".join(parts) + "."


def _mend(debrief: Debrief) -> Iterator[str]:
    for one in debrief.faults:
        times = "once" if one.times == 1 else f"{one.times} times"
        stands = "; it is so still" if one.stands and not debrief.evening.ended else ""
        stands = "; it was so at the end" if one.stands and debrief.evening.ended else stands
        name = debrief.plan.name(one.at)
        yield f"{fault_title(one.fault)}: {name}, {times}, {lasting(one.lasted_us)} in all{stands}."

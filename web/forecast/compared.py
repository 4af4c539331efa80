"""A forecast beside what came of it: for the debrief, in words, figures and a drawing. Pure."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from firmware_py.forecast.lessons import place_of
from firmware_py.forecast.words import Answer, Band, Ends
from firmware_py.logbook.forecasting import Fact
from web.forecast.plots import NARROW, WIDE, Ending, forecast_plot
from web.forecast.said import hours


@dataclass(frozen=True, slots=True)
class Compared:
    """``ended`` says that the session is over: what had not ended by then will not."""

    answer: Answer
    fact: Fact
    ended: bool

    @property
    def inside(self) -> bool | None:
        """Whether the whole ended inside the band of 8 in 10; ``None`` if it did not end."""
        return None if self.fact.whole_s is None else _inside(self.answer.whole, self.fact.whole_s)


def _inside(ends: Ends, at_s: float) -> bool:
    return ends.low.value <= at_s <= ends.high.value


def pictures(compared: Compared) -> tuple[Markup, Markup]:
    """The forecast's drawing with a mark where each end was: a wide one, and one for phones."""
    answer, fact = compared.answer, compared.fact
    facts = {job: end for job, end in fact.ended.items() if end is not None}
    if fact.whole_s is not None:
        facts[0] = fact.whole_s
    wide, narrow = (
        forecast_plot(Ending(answer.whole, answer.jobs, answer.minutes * 60, facts=facts), shape)
        for shape in (WIDE, NARROW)
    )
    return wide, narrow


def sentences(compared: Compared) -> Iterator[str]:
    """What is to be said of it."""
    answer, fact = compared.answer, compared.fact
    whole = answer.whole
    band = f"{hours(whole.low.value)} to {hours(whole.high.value)}"
    done = sum(end is not None for end in fact.ended.values())
    if fact.whole_s is None:
        so_far = "" if compared.ended else " so far"
        worked = f"{done} of {len(fact.ended)} jobs were worked to their end{so_far}"
        yield f"{worked}; {band} was forecast for the last of them."
    else:
        later = round(100 * (1 - place_of(fact.whole_s, whole.curve)))
        yield (
            f"The last job ended {hours(fact.whole_s)} after the start. {band} was forecast for 8 "
            f"of 10 evenings, and {min(max(later, 1), 99)} of 100 would have ended later."
        )
        if not compared.inside:
            yield _outside(whole, fact.whole_s)
    if compared.ended and fact.tells:
        yield "The next forecast learns from it."


def _outside(whole: Ends, at_s: float) -> str:
    """Of a fact outside the band: what the two bounds would have said."""
    tied, free = whole.together, whole.independent
    held = "holds it" if tied.low <= at_s <= tied.high else "does not hold it either"
    return (
        f"That is outside the band. Had every step gone its own way, it would have been "
        f"{_span(free)}; had all gone slow or quick together, {_span(tied)}, which {held}."
    )


def _span(band: Band) -> str:
    return f"{hours(band.low)} to {hours(band.high)}"


def compared_view(compared: Compared) -> dict[str, Any]:
    """The same as JSON; times are seconds from the session's start, null for what did not end."""
    answer, fact = compared.answer, compared.fact
    return {
        "whole": _view(answer.whole, fact.whole_s),
        "jobs": [_view(one, fact.ended.get(one.job)) for one in answer.jobs],
    }


def _view(ends: Ends, fact_s: float | None) -> dict[str, Any]:
    return {
        "job": ends.job,
        "name": ends.name,
        "low_s": round(ends.low.value, 1),
        "middle_s": round(ends.middle.value, 1),
        "high_s": round(ends.high.value, 1),
        "independent_s": [ends.independent.low, ends.independent.high],
        "together_s": [ends.together.low, ends.together.high],
        "fact_s": fact_s,
        "inside": None if fact_s is None else _inside(ends, fact_s),
    }

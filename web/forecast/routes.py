"""The forecast: its page, the making of one, and the last one as JSON."""

from __future__ import annotations

from typing import Annotated, Any

import msgspec
from flask import Blueprint, jsonify, render_template, request
from flask.typing import ResponseReturnValue

from firmware_py.forecast.checking import checked
from firmware_py.forecast.dial import DIAL, kept_scale
from firmware_py.forecast.words import (
    MOST_CREWS,
    MOST_MINUTES,
    Answer,
    ForecastError,
)
from firmware_py.logbook.forecasting import Wanted, question_of, usual_crews
from firmware_py.logbook.screen.forecasts import Kept, keep_forecast, last_forecast
from firmware_py.logbook.screen.jobs import jobs_of
from firmware_py.logbook.screen.settings import settings
from web.asks import AskError, decoded
from web.backstage import Backstage, wall_us
from web.bodies import body_of
from web.forecast.page import Evening, page_of
from web.jobs.settings import waiting_ceiling
from web.reckoning import reckon

EVENINGS = 1000
"""Evenings that the page has simulated: about three of a hundred is their error."""
LONGEST_S = 90.0
"""A small Pi takes its time."""
MODULE = "firmware_py.forecast"


class ForecastBody(msgspec.Struct, forbid_unknown_fields=True):
    """How long the evening is, how many crews there are, and the chance of finishing wanted."""

    minutes: Annotated[int, msgspec.Meta(ge=1, le=int(MOST_MINUTES))] = 120
    crews: Annotated[int, msgspec.Meta(ge=1, le=MOST_CREWS)] | None = None
    chance_percent: Annotated[int, msgspec.Meta(ge=1, le=99)] = 80


def forecast_room(backstage: Backstage) -> Blueprint:
    """The blueprint of ``/forecast`` and ``/api/forecast``."""
    blueprint = Blueprint("forecast", __name__)
    engine = backstage.engine

    @blueprint.get("/forecast")
    def page() -> ResponseReturnValue:
        followed = backstage.follower.followed
        if followed is None:
            return render_template("forecast.html", page=None)
        layout, kept = followed.plan.layout, settings(engine)
        jobs = jobs_of(engine, layout.name)
        evening = Evening(
            followed.plan,
            {job.id: job.name for job in jobs},
            usual_crews(jobs),
            waiting_ceiling(kept),
            kept_scale(kept.get(DIAL), layout.wait_scale),
            layout.wait_scale,
        )
        last = last_forecast(engine, layout.name)
        filled = page_of(evening, last.answer if last else None, last.wall_us if last else 0)
        return render_template("forecast.html", page=filled)

    @blueprint.get("/api/forecast")
    def read() -> ResponseReturnValue:
        """The last forecast of this layout; null where none was made."""
        last = last_forecast(engine, backstage.followed().plan.layout.name)
        return jsonify({"forecast": forecast_view(last) if last else None})

    @blueprint.post("/api/forecast")
    def make() -> ResponseReturnValue:
        """Make one and keep it for the debrief of the session that is opened next."""
        body = decoded(body_of(request), ForecastBody)
        backstage.door.require(request)
        layout = backstage.followed().plan.layout
        chance = body.chance_percent / 100
        wanted = Wanted(float(body.minutes), body.crews, chance, EVENINGS, _seed())
        question = question_of(engine, layout, wanted)
        try:
            checked(question)
        except ForecastError as wrong:
            raise AskError(422, str(wrong)) from None
        found = reckon(MODULE, msgspec.to_builtins(question), LONGEST_S)
        now_us = wall_us()
        answer = msgspec.convert(found, Answer)
        number = keep_forecast(engine, layout.name, answer, now_us)
        return jsonify({"forecast": forecast_view(Kept(number, now_us, answer))}), 201

    return blueprint


def forecast_view(kept: Kept) -> dict[str, Any]:
    """A forecast as JSON."""
    answer: dict[str, Any] = msgspec.to_builtins(kept.answer)
    return {"id": kept.id, "made_wall_us": kept.wall_us} | answer


def _seed() -> int:
    """The same evenings each time, so that two plans differ by themselves and not by chance."""
    return 1

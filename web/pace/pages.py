"""The Pace page, and each locomotive's card."""

from __future__ import annotations

from flask import Blueprint, render_template, request
from flask.typing import ResponseReturnValue

from firmware_py.logbook.screen.locomotives import locomotives_of
from web.asks import AskError
from web.backstage import Backstage
from web.pace.card import card_of
from web.pace.locomotives import question_of
from web.pace.routes import FITTING
from web.reckoning import reckon


def pace_pages(backstage: Backstage) -> Blueprint:
    """The blueprint of ``/pace`` and ``/pace/locomotives/<id>/card``."""
    blueprint = Blueprint("pace-pages", __name__)

    @blueprint.get("/pace")
    def pace() -> ResponseReturnValue:
        """Trap passes, throttle set-up, roll tests and brake tests."""
        return render_template("pace.html")

    @blueprint.get("/pace/locomotives/<int:number>/card")
    def card(number: int) -> ResponseReturnValue:
        """A locomotive's card, to print. Its settings are worked out anew, so it is the host's."""
        if backstage.door.token(request) is None:
            return render_template("locomotive_card.html", host=False, card=None, why=""), 401
        followed = backstage.followed()
        layout = followed.plan.layout
        listed = locomotives_of(backstage.engine, followed.session.layout_name)
        one = next((one for one in listed if one.id == number), None)
        if one is None:
            why = "There is no such locomotive on this layout."
            return render_template("locomotive_card.html", host=True, card=None, why=why), 404
        try:
            advice = reckon(FITTING, question_of(one, layout.ratio))
        except AskError as wrong:
            why = f"{one.name}: {wrong.reason}."
            return render_template("locomotive_card.html", host=True, card=None, why=why), (
                wrong.status
            )
        made = card_of(one, layout, advice)
        return render_template("locomotive_card.html", host=True, card=made, why="")

    return blueprint

"""The page ``/proof``: what is proven of a layout, and what stands behind each rule."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import Any

from flask import Blueprint, render_template
from flask.typing import ResponseReturnValue

from firmware_py.proof.keeping import verdict_path
from firmware_py.proof.properties import PROPERTIES
from firmware_py.proof.verdict import Verdict, kept, words_on
from web.backstage import Backstage

TABLE = Path(__file__).with_name("traceability.json")


@cache
def traced() -> list[dict[str, Any]]:
    """The traceability table: a row for each rule and output."""
    found: list[dict[str, Any]] = json.loads(TABLE.read_text(encoding="utf-8"))
    return found


def proof_page(backstage: Backstage) -> Blueprint:
    """The blueprint of ``/proof``."""
    blueprint = Blueprint("proof", __name__)

    def verdict() -> tuple[Verdict | None, str]:
        """The verdict on the layout that is followed, and what is said of it."""
        followed, url = backstage.follower.followed, backstage.engine.url
        path = verdict_path(str(url.database)) if url.drivername.startswith("sqlite") else None
        if followed is None or path is None:
            return None, ""  # A verdict lies beside one box's logbook.
        found = kept(path, followed.plan.layout)
        return found, words_on(found)

    @blueprint.get("/proof")
    def proof() -> ResponseReturnValue:
        """What is proven, and every rule from its published source to its tests."""
        found, words = verdict()
        way = found.way if found else None
        return render_template(
            "proof.html", properties=PROPERTIES, rows=traced(), words=words, way=way
        )

    return blueprint

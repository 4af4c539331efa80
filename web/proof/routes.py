"""The page ``/proof``: what is proven of a layout, and what stands behind each rule."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import Any

from flask import Blueprint, render_template
from flask.typing import ResponseReturnValue

from firmware_py.proof.properties import PROPERTIES

TABLE = Path(__file__).with_name("traceability.json")


@cache
def traced() -> list[dict[str, Any]]:
    """The traceability table: a row for each rule and output."""
    found: list[dict[str, Any]] = json.loads(TABLE.read_text(encoding="utf-8"))
    return found


def proof_page() -> Blueprint:
    """The blueprint of ``/proof``."""
    blueprint = Blueprint("proof", __name__)

    @blueprint.get("/proof")
    def proof() -> ResponseReturnValue:
        """What is proven, and every rule from its published source to its tests."""
        return render_template("proof.html", properties=PROPERTIES, rows=traced())

    return blueprint

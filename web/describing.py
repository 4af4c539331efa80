"""The OpenAPI description of the whole screen, put together from one part for each room."""

from __future__ import annotations

import json
from functools import cache
from importlib.resources import files
from typing import Any


@cache
def description() -> dict[str, Any]:
    """The description. ``live.json`` begins it; every part adds paths and schemas of its own.

    Raises ``ValueError`` if two parts describe the same thing.
    """
    parts = files("web").joinpath("openapi")
    whole: dict[str, Any] = json.loads(parts.joinpath("live.json").read_text("utf-8"))
    others = (part for part in parts.iterdir() if part.name.endswith(".json"))
    for part in sorted(others, key=lambda part: part.name):
        if part.name == "live.json":
            continue
        more = json.loads(part.read_text("utf-8"))
        _add(whole["paths"], more.get("paths", {}))
        for kind, added in more.get("components", {}).items():
            _add(whole["components"].setdefault(kind, {}), added)
    return whole


def _add(to: dict[str, Any], more: dict[str, Any]) -> None:
    twice = to.keys() & more.keys()
    if twice:
        raise ValueError(f"described twice: {', '.join(sorted(twice))}")
    to.update(more)

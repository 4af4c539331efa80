"""All boxes' layouts as one, in the names of their board. Pure."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from typing import Any, TypeVar

from firmware_py.gathering.names import on_board, title_of
from firmware_py.layout.model import FOREMAN, Contact, Gate, Key, Layout, Switch, Times

_IDS = ("id", "thing", "switch", "spur", "key")
_PLACES = ("first", "second")
_LISTS = ("opening", "closing")
_KINDS = ("switches", "spurs", "gates", "derails", "flags", "chocks", "keys", "traps")

Fitting = TypeVar("Fitting", Switch, Gate)


def layout_on_board(node: str, layout: Layout) -> Layout:
    """A box's layout with the board's ids, and with the box's name before each thing's own."""
    kinds: dict[str, Any] = {
        kind: tuple(_renamed(node, thing) for thing in getattr(layout, kind)) for kind in _KINDS
    }
    return dataclasses.replace(layout, **kinds)


def one_layout(name: str, layouts: Mapping[str, Layout]) -> Layout | None:
    """All boxes' layouts as one, which has the first one's clock; ``None`` where there is none."""
    every = list(layouts.values())
    if not every:
        return None
    kinds: dict[str, Any] = {
        kind: tuple(thing for layout in every for thing in getattr(layout, kind)) for kind in _KINDS
    }
    return dataclasses.replace(every[0], name=name, node=None, chips=(), **kinds)


def with_keys(layout: Layout, fits: Mapping[str, str], keys: Sequence[Key]) -> Layout:
    """The layout with keys of other boxes: ``fits`` has the key of a switch or gate.

    ``keys`` are all that there are. What has a key of its own keeps it, and a key that there is
    not is passed over.
    """
    known = {key.id: key for key in keys}
    added: dict[str, Key] = {key.id: key for key in layout.keys}

    def fitted(thing: Fitting) -> Fitting:
        key = known.get(fits.get(thing.id, ""))
        if thing.key is not None or key is None:
            return thing
        added[key.id] = key
        return dataclasses.replace(thing, key=key.id)

    switches = tuple(fitted(one) for one in layout.switches)
    gates = tuple(fitted(one) for one in layout.gates)
    keyed = tuple(added.values())
    return dataclasses.replace(layout, switches=switches, gates=gates, keys=keyed)


def nothing(name: str) -> Layout:
    """The layout of a board that has heard of no box yet."""
    return Layout(name, 87.1, None, 0.5, 6.0, Times(), (), ())


def _renamed(node: str, thing: Any) -> Any:  # noqa: ANN401 - any kind of thing
    changed: dict[str, Any] = {}
    for field in dataclasses.fields(thing):
        value = getattr(thing, field.name)
        if field.name in (*_IDS, *_PLACES) and isinstance(value, str):
            changed[field.name] = on_board(node, value)
        elif field.name == "name":
            changed["name"] = f"{title_of(node)} · {value}"
        elif field.name in _LISTS:
            changed[field.name] = tuple(
                step if step == FOREMAN else on_board(node, step) for step in value
            )
        elif isinstance(value, Contact):
            changed[field.name] = dataclasses.replace(value, thing=on_board(node, value.thing))
    return dataclasses.replace(thing, **changed)

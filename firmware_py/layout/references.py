"""Judges what holds between the tables: ids, and the ids by which one thing names another."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from firmware_py.layout.errors import Problems, shown
from firmware_py.layout.lines import Path
from firmware_py.layout.model import Kind, Role
from firmware_py.layout.tables import Table, suggestion

SENSING = (Role.DETECTOR.value, Role.FOULING.value)
"""The roles that a trap can take its times from."""

NO_THINGS = ("chip", "wiring")
"""Tables whose ids are no things', and so may be those of things too."""


@dataclass(frozen=True, slots=True)
class Declared:
    """An id that the file gives to a thing. ``kind`` is ``None`` in a table that is unknown."""

    kind: Kind | None
    id: str
    path: Path
    senses: tuple[str, ...]


def declared_in(document: Mapping[str, object], problems: Problems) -> dict[str, Declared]:
    """Every id of the file, sound or not, in file order; repeats are noted, and the first kept.

    Ids of things that have other faults count too, so that one mistake is not reported again by
    everything that refers to the thing.
    """
    found = [
        declared
        for name, tables in document.items()
        if name not in NO_THINGS
        for declared in _ids_of(name, tables)
    ]
    first: dict[str, Declared] = {}
    for thing in sorted(found, key=lambda thing: problems.lines.of(thing.path) or 0):
        earlier = first.setdefault(thing.id, thing)
        if earlier is not thing:
            line = problems.lines.of(earlier.path)
            where = "" if line is None else f" on line {line}"
            what = f"the id {shown(thing.id)} is already given to a {_kind(earlier)}{where}"
            problems.add(thing.path, f"{what}; ids are unique across all kinds of thing")
    return first


def judge_reference(table: Table, key: str, kind: Kind, ids: Mapping[str, Declared]) -> None:
    """Note a key whose value should be the id of a thing of that kind and is not."""
    name = table.value(key)
    if not isinstance(name, str) or not name:
        return
    named = ids.get(name)
    if named is None:
        right = suggestion(name, (thing.id for thing in ids.values() if thing.kind is kind))
        what = f"there is no {kind} {shown(name)}; {right}"
        if kind is Kind.KEY:
            what += f' (Or add a [[key]] table with id = "{name}" and a hook contact.)'
        table.wrong(key, f"{key}: {what}")
    elif named.kind not in (kind, None):
        table.wrong(key, f"{key}: {shown(name)} is a {_kind(named)}, but must be a {kind}")


def judge_trap(table: Table, ids: Mapping[str, Declared]) -> None:
    """Note a trap whose two detectors are not fitted, or are one and the same."""
    for key in ("first", "second"):
        name = table.value(key)
        if isinstance(name, str) and name:
            _judge_detector(table, key, name, ids)
    first, second = table.value("first"), table.value("second")
    if isinstance(first, str) and first == second:
        table.wrong("second", f"first and second are both {shown(first)}; a trap needs two")


def _judge_detector(table: Table, key: str, name: str, ids: Mapping[str, Declared]) -> None:
    thing, _, role = name.rpartition(".")
    named = ids.get(thing)
    if named is not None and (named.kind is None or role in named.senses):
        return
    fitted = [f"{other.id}.{sense}" for other in ids.values() for sense in other.senses]
    what = f"{shown(name)} is not a detector of this layout"
    table.wrong(key, f"{key}: {what}; {suggestion(name, fitted)}")


def _ids_of(name: str, tables: object) -> list[Declared]:
    kind = Kind(name) if name in list(Kind) else None
    placed: list[tuple[Path, object]] = []
    if isinstance(tables, list):
        placed = [((name, index), table) for index, table in enumerate(tables)]
    elif isinstance(tables, dict):
        # Single brackets are a mistake of their own; what stands in them was still meant.
        kind, placed = None, [((name,), tables)]
    return [
        Declared(kind, thing, (*path, "id"), _senses(table))
        for path, table in placed
        if isinstance(table, dict) and isinstance(thing := table.get("id"), str) and thing
    ]


def _senses(table: Mapping[str, object]) -> tuple[str, ...]:
    contacts = table.get("contacts")
    return tuple(role for role in SENSING if isinstance(contacts, dict) and role in contacts)


def _kind(declared: Declared) -> str:
    return "thing" if declared.kind is None else declared.kind.value

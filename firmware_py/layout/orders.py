"""The orders in which a spur's protections come off and go back: defaults and judgement."""

from __future__ import annotations

from collections.abc import Iterable, Sequence, Set
from dataclasses import replace
from difflib import get_close_matches

from firmware_py.layout.errors import shown
from firmware_py.layout.model import FOREMAN, ForemanKind, Layout, Spur
from firmware_py.layout.tables import ENOUGH, Table


def with_orders(layout: Layout) -> Layout:
    """The same layout with every order that was left out filled in."""
    spurs = tuple(
        replace(
            spur,
            opening=spur.opening or default_opening(layout, spur),
            closing=spur.closing or default_closing(layout, spur),
        )
        for spur in layout.spurs
    )
    return replace(layout, spurs=spurs)


def default_opening(layout: Layout, spur: Spur) -> tuple[str, ...]:
    """Foreman, flags, switch, derails, gates, chocks, each kind in file order."""
    flags, derails, gates, chocks = _fitted(layout, spur)
    return (*_foreman(spur), *flags, spur.switch, *derails, *gates, *chocks)


def default_closing(layout: Layout, spur: Spur) -> tuple[str, ...]:
    """Chocks, gates, derails, foreman, flags, switch, each kind in file order."""
    flags, derails, gates, chocks = _fitted(layout, spur)
    return (*chocks, *gates, *derails, *_foreman(spur), *flags, spur.switch)


def judge_order(layout: Layout, spur: Spur, table: Table, key: str) -> None:
    """Note what is wrong with an order that the file gives: strangers, repeats, omissions."""
    given = table.texts(key)
    if given is None:
        return
    known = default_opening(layout, spur)
    seen: set[str] = set()
    for at, name in enumerate(given[: len(known) + ENOUGH]):
        what = _misnamed(key, name, known, seen)
        if what is not None:
            table.problems.add((*table.path, key, at), f"{table.label}: {what}")
        seen.add(name)
    left_out = [name for name in known if name not in given]
    if left_out:
        right = f"it must name each of {_listed(known)}"
        table.wrong(key, f"{key} leaves out {_listed(left_out)}; {right}")


def _misnamed(key: str, name: str, known: Sequence[str], seen: Set[str]) -> str | None:
    """What is wrong with a name where it stands, ``None`` if nothing is."""
    if name in seen:
        return f"{key} names {shown(name)} twice; each protection stands in it once"
    if name in known:
        return None
    if name == FOREMAN:
        right = 'take it out, or write foreman = "host" or "auto"'
        return f'{key} names "foreman", but this spur has none; {right}'
    return f"{key} names {shown(name)}, {_stranger(name, known)}"


def _stranger(name: str, known: Sequence[str]) -> str:
    close = get_close_matches(name, known, n=1)
    right = f'did you mean "{close[0]}"?' if close else f"it has {_listed(known)}"
    return f"which is not a protection of this spur; {right}"


def _foreman(spur: Spur) -> tuple[str, ...]:
    return () if spur.foreman is ForemanKind.NONE else (FOREMAN,)


def _fitted(layout: Layout, spur: Spur) -> list[tuple[str, ...]]:
    kinds = (layout.flags, layout.derails, layout.gates, layout.chocks)
    return [tuple(thing.id for thing in kind if thing.spur == spur.id) for kind in kinds]


def _listed(names: Iterable[str]) -> str:
    return ", ".join(f'"{name}"' for name in names)

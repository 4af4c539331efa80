"""The stage tables against rulebook section 4, said once more here, in every state.

First the tables themselves, entry by entry. Then a real core is taken into every state that a
switch can be in, over every event that can happen there, and must always show the stage that a
second, plain reading of section 4 gives. Last, every entry of the tables is dropped or changed,
and one of the two must notice.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from itertools import product
from typing import Any

import pytest

from firmware_py.core import stages
from firmware_py.core.core import Core
from firmware_py.core.names import Points, Stage
from firmware_py.core.stages import LOCKED, UNLOCKED, WITHOUT_LOCK, Spell, points_of
from firmware_py.layout.model import Layout
from firmware_py.layout.reading import parse_layout

TABLES: dict[str, Any] = {"locked": LOCKED, "unlocked": UNLOCKED, "without-lock": WITHOUT_LOCK}

# --- What section 4 says of the tables. ---


def said_locked(points: Points) -> str:
    """The first two rows: locked and normal is secured, locked and anything else irregular."""
    return "secured" if points == "normal" else "irregular"


def said_unlocked(points: Points, spell: Spell) -> str | None:
    """The other rows; ``None`` for the last of the unlocked stages it had."""
    if points == "normal":
        return "unlocked" if spell.name == "FRESH" else "restored"
    if points == "reverse":
        return "in-use" if spell.name == "USED" else "lined"
    return None


def said_without_lock(points: Points, spell: Spell) -> str | None:
    """The sentence on ``lock = "none"``: secured when normal, else as any unlocked switch."""
    return "secured" if points == "normal" else said_unlocked(points, spell)


def wrong_entries() -> list[str]:
    """Entries of the tables that are not what section 4 says, or are missing."""
    wrong = []
    for points in Points:
        if LOCKED.get(points) != said_locked(points):
            wrong.append(f"locked {points}")
        for spell in Spell:
            if (points, spell) == (Points.REVERSE, Spell.FRESH):
                continue  # Points that lie reverse, unlocked, are lined.
            for table, said in ((UNLOCKED, said_unlocked), (WITHOUT_LOCK, said_without_lock)):
                if (points, spell) not in table or table[points, spell] != said(points, spell):
                    wrong.append(f"{points} {spell.name}")
    return wrong


def test_the_tables_say_what_section_4_says() -> None:
    assert wrong_entries() == []
    assert len(LOCKED) == 5
    assert len(UNLOCKED) == len(WITHOUT_LOCK) == 14


def test_a_switch_is_never_secured_on_a_guess() -> None:
    assert stages.NONE_TO_KEEP == "unlocked"
    assert stages.NONE_TO_KEEP_WITHOUT_LOCK == "lined"


@pytest.mark.parametrize(
    ("normal", "reverse", "points"),
    [
        (True, False, "normal"),
        (False, True, "reverse"),
        (False, False, "between"),
        (True, True, "disputed"),
        *[(None, other, "unknown") for other in (True, False, None)],
        *[(other, None, "unknown") for other in (True, False)],
    ],
)
def test_points(normal: bool | None, reverse: bool | None, points: str) -> None:
    assert points_of(normal, reverse) == points


# --- A plain second reading of section 4, and a real core beside it. ---

LAYOUT = """
[layout]
name = "One switch"
scale = "HO"
[times]
settle = 0
clear_after = 0
[[switch]]
id = "a"
{lock}
"""
PADLOCK = 'contacts = {hasp = "auto", normal = "auto", reverse = "auto", detector = "auto"}'
NO_LOCK = 'lock = "none"\ncontacts = {normal = "auto", reverse = "auto", detector = "auto"}'


@cache
def layout(has_hasp: bool) -> Layout:
    """One switch, alone."""
    return parse_layout(LAYOUT.format(lock=PADLOCK if has_hasp else NO_LOCK), "one.toml")


@dataclass(frozen=True)
class Model:
    """A switch as section 4 has it; every stage is worked out from what happened.

    ``lined`` and ``occupied`` are "lined since it was unlocked" and "occupied since it was
    lined"; ``last`` is the last of the four unlocked stages it had.
    """

    has_hasp: bool
    hasp: bool | None
    normal: bool | None = True
    reverse: bool | None = False
    detector: bool | None = False
    lined: bool = False
    occupied: bool = False
    spell: bool = False
    last: str | None = None

    @property
    def points(self) -> str:
        known = self.normal is not None and self.reverse is not None
        return points_of(self.normal, self.reverse).value if known else "unknown"

    @property
    def stage(self) -> str:
        if self.hasp is True:
            return "secured" if self.points == "normal" else "irregular"
        if self.points == "normal":
            if not self.has_hasp:
                return "secured"
            return "restored" if self.lined else "unlocked"
        if self.points == "reverse":
            return "in-use" if self.occupied else "lined"
        return self.last or ("unlocked" if self.has_hasp else "lined")

    def settled(self, role: str, made: bool | None) -> Model:
        """The same but for one contact; nothing follows from it yet."""
        match role:
            case "hasp":
                return replace(self, hasp=made)
            case "normal":
                return replace(self, normal=made)
            case "reverse":
                return replace(self, reverse=made)
            case _:
                return replace(self, detector=made)

    def after(self, role: str, made: bool | None) -> Model:
        """The switch after one contact settled, or was lost."""
        if getattr(self, role) is made:
            return self
        new = self.settled(role, made)
        lined_anew = new.points == "reverse" != self.points
        if role == "hasp" and made is not True:
            # A lost hasp is not locked, but nobody opened it: a spell that runs goes on.
            if made is False:
                new = replace(new, spell=False, last=None)
            if not new.spell:
                new = replace(new, lined=False, occupied=new.occupied and made is None)
            lined_anew = new.points == "reverse" and made is False
        if new.points == "reverse":
            new = replace(new, lined=True)
        if lined_anew:
            new = replace(new, occupied=new.detector is True)
        elif new.points == "reverse" and role == "detector" and made is True:
            new = replace(new, occupied=True)
        return new.remembering()

    def remembering(self) -> Model:
        """Keep what the last row of the table and the spell of being lined need.

        A switch without a lock keeps any stage, ``secured`` too ("keeps its stage in between").
        """
        stage = self.stage
        if stage == "secured":
            last = None if self.has_hasp else stage
            return replace(self, lined=False, occupied=False, spell=False, last=last)
        if self.hasp is not True:
            return replace(self, last=stage, spell=self.spell or stage in ("lined", "in-use"))
        return self


Move = tuple[str, bool | None]
READINGS = (True, False, None)


@dataclass(frozen=True)
class Way:
    """How to get somewhere: how things stood at first, and what settled then."""

    has_hasp: bool
    standing: tuple[Move, ...] = ()
    moves: tuple[Move, ...] = ()

    def then(self, move: Move) -> Way:
        return replace(self, moves=(*self.moves, move))

    def walk(self) -> str:
        """The stage of a real core that was taken there."""
        core = Core(layout(self.has_hasp), {f"a.{role}": made for role, made in self.standing})
        for t_us, (role, made) in enumerate(self.moves, start=1):
            core.reading(t_us, f"a.{role}", made)
            core.advance(t_us)
        return core.stages()["a"].value


def roles(has_hasp: bool) -> list[str]:
    """The contacts of the switch."""
    return ["hasp", "normal", "reverse", "detector"][0 if has_hasp else 1 :]


def starts(has_hasp: bool) -> Iterator[tuple[Model, Way]]:
    """Every way in which things can stand at first; the one at rest comes first."""
    for made in product(READINGS, repeat=len(roles(has_hasp))):
        standing = dict(zip(roles(has_hasp), made, strict=True))
        yield begun(has_hasp, standing), Way(has_hasp, tuple(standing.items()))


def begun(has_hasp: bool, standing: dict[str, bool | None]) -> Model:
    """Points that lie reverse at first are lined, and in use if the section is occupied."""
    model = Model(has_hasp, hasp=None)
    for role, made in standing.items():
        model = model.settled(role, made)
    if model.points == "reverse":
        model = replace(model, lined=True, occupied=model.detector is True)
    return model.remembering()


def at_rest(has_hasp: bool) -> Model:
    """Normal, clear, and locked where there is a lock."""
    standing: dict[str, bool | None] = {"normal": True, "reverse": False, "detector": False}
    return begun(has_hasp, standing | ({"hasp": True} if has_hasp else {}))


@cache
def states(has_hasp: bool) -> dict[Model, Way]:
    """Every state that can be reached, with a shortest way to it from things at rest."""
    found = {at_rest(has_hasp): Way(has_hasp)}
    for model, way in starts(has_hasp):
        found.setdefault(model, way)
    todo = list(found)
    for model in todo:  # It grows as it is walked.
        for move in product(roles(has_hasp), READINGS):
            after = model.after(*move)
            if after not in found:
                found[after] = found[model].then(move)
                todo.append(after)
    return found


def events(has_hasp: bool) -> Iterator[tuple[Model, Model, Way]]:
    """Every event in every state, with the states before and after."""
    for model, way in states(has_hasp).items():
        for move in product(roles(has_hasp), READINGS):
            yield model, model.after(*move), way.then(move)


@pytest.mark.parametrize("has_hasp", [True, False], ids=["padlock", "no-lock"])
def test_every_start(has_hasp: bool) -> None:
    for model, way in starts(has_hasp):
        assert way.walk() == model.stage, way


@pytest.mark.parametrize("has_hasp", [True, False], ids=["padlock", "no-lock"])
def test_every_event_in_every_state(has_hasp: bool) -> None:
    assert len(states(has_hasp)) > (500 if has_hasp else 50)
    wrong = [(way, after.stage) for _, after, way in events(has_hasp) if way.walk() != after.stage]
    assert wrong == []


# --- Mutants of the tables. ---


def mutants() -> Iterator[object]:
    """Every entry dropped, and changed to every stage that it isn't."""
    for name, table in TABLES.items():
        for key, right in table.items():
            parts = key if isinstance(key, tuple) else (key,)
            words = "-".join(part.name.lower() for part in parts)
            wrongs = ["dropped", *Stage, *([] if table is LOCKED else [None])]
            for wrong in wrongs:
                if wrong != right:
                    yield pytest.param(name, key, wrong, id=f"{name}-{words}-{wrong or 'keep'}")


def mutate(monkeypatch: pytest.MonkeyPatch, name: str, key: object, wrong: object) -> None:
    """Put the mistake into the table that the core reads."""
    if wrong == "dropped":
        monkeypatch.delitem(TABLES[name], key)
    else:
        monkeypatch.setitem(TABLES[name], key, wrong)


@cache
def short_walk() -> list[tuple[Way, str]]:
    """A way for each turn from one state into the next that section 4 tells apart."""
    found: dict[object, tuple[Way, str]] = {}
    for has_hasp in (True, False):
        for model, way in starts(has_hasp):
            found.setdefault((has_hasp, model.hasp, model.points), (way, model.stage))
        for before, after, way in events(has_hasp):
            told = [(m.points, m.stage, m.lined, m.occupied) for m in (before, after)]
            turn = (has_hasp, after.hasp, *told)
            found.setdefault(turn, (way, after.stage))
    return list(found.values())


def walks_right() -> bool:
    """Whether the core ends in the right stage on every way of the short walk."""
    try:
        return all(way.walk() == stage for way, stage in short_walk())
    except KeyError:
        return False


# Some entries could as well name the only stage that there is to keep, and nobody could tell:
# unlocked and not lined since, it has been nothing but unlocked; without a lock, lined or used and
# not secured again, it has been nothing but lined, or in use.
NOTHING_ELSE_TO_KEEP = {
    ("unlocked", Spell.FRESH, Stage.UNLOCKED),
    ("without-lock", Spell.LINED, Stage.LINED),
    ("without-lock", Spell.USED, Stage.IN_USE),
}


def is_blind(name: str, key: object, wrong: object) -> bool:
    """Whether no switch can show this mistake."""
    if (name, key, wrong) == ("unlocked", (Points.NORMAL, Spell.FRESH), None):
        return True  # The same the other way about: what is kept there is ``unlocked``.
    keeps = isinstance(key, tuple) and TABLES[name][key] is None
    return keeps and isinstance(key, tuple) and (name, key[1], wrong) in NOTHING_ELSE_TO_KEEP


@pytest.mark.parametrize(("name", "key", "wrong"), list(mutants()))
def test_a_wrong_entry_is_noticed(
    name: str, key: object, wrong: object, monkeypatch: pytest.MonkeyPatch
) -> None:
    blind = is_blind(name, key, wrong)
    mutate(monkeypatch, name, key, wrong)
    assert wrong_entries() != []
    assert walks_right() is blind, "the table is wrong, and no switch shows it"


def test_the_right_tables_pass() -> None:
    assert walks_right()

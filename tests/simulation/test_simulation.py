"""Simulated sessions with faults; ``python -m tests.simulation`` runs more of them.

The method is common practice for databases, from memory, no source: one thread, virtual time,
everything from a seed. What must hold is in ``invariants.py``, from the rulebook.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import replace

import pytest

from firmware_py.core.entries import Entry
from firmware_py.core.names import Command
from firmware_py.core.orders import Order
from firmware_py.engine.audience import Audience
from firmware_py.engine.engine import Engine
from firmware_py.engine.foreman import AutoForeman
from firmware_py.logbook.backlog import Backlog
from tests.simulation.campaign import Bench, Figures, bench
from tests.simulation.script import script_of
from tests.simulation.shrinking import shrunk
from tests.simulation.steps import Kill, Raise, Say, Script, Step

SESSIONS = 2_000 if os.environ.get("CI") else 800
"""A tenth of a second each: what is worth waiting for at the bench, and before a change lands."""
AT_ONCE = 50


@pytest.fixture(scope="module")
def figures() -> Figures:
    return Figures()


@pytest.fixture(scope="module")
def played_on() -> Iterator[Bench]:
    with bench() as made:
        yield made


@pytest.mark.parametrize("first", range(0, SESSIONS, AT_ONCE))
def test_nothing_breaks_whatever_happens(first: int, figures: Figures, played_on: Bench) -> None:
    for seed in range(first, first + AT_ONCE):
        figures.add(seed, played_on.play(script_of(seed)))
    assert not figures.broken, "shrink it with: python -m tests.simulation 1 --from SEED"


def test_everything_was_met_sometimes(figures: Figures) -> None:
    if figures.sessions < SESSIONS:
        pytest.skip("this looks at what all sessions together have met")
    assert not figures.never_met


def test_a_seed_plays_the_same_way_each_time(played_on: Bench) -> None:
    for seed in range(20):
        script = script_of(seed)
        assert script == script_of(seed)
        assert played_on.play(script) == played_on.play(script)


def test_seeds_play_in_different_ways(played_on: Bench) -> None:
    assert len({played_on.play(script_of(seed)).digest for seed in range(10)}) == 10


def test_an_event_torn_apart_is_found_and_shrunk(
    played_on: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Backlog, "hold", lambda _self: None)
    monkeypatch.setattr(Backlog, "let_go", lambda _self: None)

    def fails(script: Script) -> bool:
        return str(played_on.play(script).broken).startswith("i4_log_is_a_prefix")

    script = next((s for s in map(script_of, range(100)) if fails(s)), None)
    assert script is not None
    small = shrunk(script, fails)
    assert len(small.steps) < len(script.steps)
    assert fails(small)


ASKED = """
[layout]
name = "Slate Basin"
scale = "HO"
[[switch]]
id = "mill-switch"
lock = "none"
contacts = { normal = 6, reverse = 13 }
[[spur]]
id = "mill"
switch = "mill-switch"
foreman = "auto"
foreman_seconds = [20, 60]
"""
ASKED_AND_KILLED = Script(
    seed=1,
    toml=ASKED,
    room=1_000,
    steps=(
        Step(5_000_000, Say(Order(Command.ASK, "mill"))),
        Step(6_000_000, Kill(after=0, back_after_us=1_000_000)),
    ),
)


def test_a_foreman_who_was_asked_answers_after_a_restart(played_on: Bench) -> None:
    outcome = played_on.play(ASKED_AND_KILLED)
    assert outcome.broken is None
    assert {"killed while waiting", "resumed"} <= outcome.met


def test_a_foreman_forgotten_by_a_restart_is_found(
    played_on: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(AutoForeman, "go_on", lambda *_: None)
    broken = str(played_on.play(ASKED_AND_KILLED).broken)
    assert broken == "i10_foremen_answer: the foreman of mill was asked, and never answers"


def test_a_lamp_that_lies_is_found(played_on: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Engine, "_show", lambda *_: None)
    broken = [played_on.play(script_of(seed)).broken for seed in range(10)]
    assert any(str(what).startswith("i3_pins_show_the_core") for what in broken)


def test_a_listener_that_stops_the_engine_is_found(
    played_on: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    def hear(self: Audience, entry: Entry) -> None:
        for listener in self._listeners:
            listener(entry)

    monkeypatch.setattr(Audience, "hear", hear)
    steps = (Step(4_000_000, Raise(1)), *ASKED_AND_KILLED.steps)
    broken = played_on.play(replace(ASKED_AND_KILLED, steps=steps)).broken
    assert str(broken).startswith("i13_only_the_log_stops_an_engine")

"""From a session's entries to its rounds: who was where, and how long each step took. Pure, light.

A round is one time that a spur was opened until it was at rest again. Only the lines of phases,
foremen and brake tests are wanted (``KINDS``).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

KINDS = ("phase", "foreman", "brake-test")


@dataclass(slots=True)
class Round:
    """A round. ``began_id`` and ``ended_id`` are those of its first and last entry.

    ``steps`` are seconds by ``phase/step``; ``worked`` says that a train went in. ``asked_s`` is
    the first asking, ``released_s`` when the foreman released; ``tests`` counts brake tests.
    """

    spur: str
    began_id: int
    began_s: float
    ended_id: int | None = None
    ended_s: float | None = None
    worked: bool = False
    steps: dict[str, float] = field(default_factory=dict)
    asked_s: float | None = None
    released_s: float | None = None
    tests: int = 0
    tested_s: float = 0.0

    def holds(self, t_s: float) -> bool:
        """Whether it went on at a moment."""
        return self.began_s <= t_s and (self.ended_s is None or t_s < self.ended_s)


@dataclass(slots=True)
class _Spur:
    phase: str = "idle"
    step: str | None = None
    since_s: float = 0.0
    test_s: float | None = None
    asked_s: float | None = None
    round: Round | None = None


class Rounds:
    """Takes a session's lines in order; ``rounds`` are in the order in which they began."""

    def __init__(self, phases: Mapping[str, Any] | None = None) -> None:
        """``phases`` are those of the session's outset: ``[phase, next]`` by spur."""
        self.rounds: list[Round] = []
        self.last_s = 0.0
        self._spurs: dict[str, _Spur] = {}
        for spur, (phase, step) in (phases or {}).items():
            self._spurs[spur] = _Spur(phase, step)

    def take(self, line: Mapping[str, Any], ident: int) -> None:
        """Take the next line; ``ident`` is its entry's id."""
        what, t_s = line["what"], float(line["t"])
        self.last_s = max(self.last_s, t_s)
        if what not in KINDS:
            return
        spur = self._spurs.setdefault(line["spur"], _Spur())
        if what == "phase":
            self._phase(line, spur, t_s, ident)
        elif what == "foreman":
            _foreman(spur, line["is"], t_s)
        else:
            _brake_test(spur, line["is"], t_s)

    def _phase(self, line: Mapping[str, Any], spur: _Spur, t_s: float, ident: int) -> None:
        phase, step = line["phase"], line["next"]
        if spur.round is not None and spur.step is not None:
            key = f"{spur.phase}/{spur.step}"
            spur.round.steps[key] = spur.round.steps.get(key, 0.0) + t_s - spur.since_s
        if spur.phase == "idle" and phase != "idle":
            spur.round = Round(line["spur"], ident, t_s, asked_s=spur.asked_s)
            spur.asked_s = None
            self.rounds.append(spur.round)
        if spur.round is not None and phase == "working":
            spur.round.worked = True
        if spur.round is not None and phase == "idle":
            spur.round.ended_id, spur.round.ended_s = ident, t_s
            spur.round = None
        spur.phase, spur.step, spur.since_s = phase, step, t_s


def _foreman(spur: _Spur, word: str, t_s: float) -> None:
    one = spur.round
    if word == "asked" and one is None:
        spur.asked_s = t_s  # The line of the phase that it begins comes after this one.
    elif word == "asked" and one is not None and one.asked_s is None:
        one.asked_s = t_s
    elif word == "released" and one is not None and one.released_s is None:
        one.released_s = t_s


def _brake_test(spur: _Spur, word: str, t_s: float) -> None:
    if word == "running":
        spur.test_s = t_s
        return
    if spur.test_s is not None and spur.round is not None:
        spur.round.tests += word == "done"
        spur.round.tested_s += t_s - spur.test_s
    spur.test_s = None


def rounds_of(
    lines: Iterable[tuple[int, Mapping[str, Any]]], phases: Mapping[str, Any] | None = None
) -> Rounds:
    """All rounds of a session from ``(id, line)``."""
    found = Rounds(phases)
    for ident, line in lines:
        found.take(line, ident)
    return found


def answers_of(rounds: Iterable[Round], spurs: frozenset[str]) -> dict[int, float]:
    """How long the host took for each answer at ``spurs``, by the round's ``began_id``.

    He answers one crew at a time, so that an answer's own time runs from the asking or, where
    that is later, from his answer before (a queue with one server, solved backwards).
    """
    asked = [one for one in rounds if one.spur in spurs and one.asked_s is not None]
    answered = [one for one in asked if one.released_s is not None]
    found: dict[int, float] = {}
    last_s = 0.0
    for one in sorted(answered, key=lambda one: one.released_s or 0.0):
        assert one.asked_s is not None, "only asked ones are here"
        assert one.released_s is not None, "only answered ones are here"
        found[one.began_id] = one.released_s - max(one.asked_s, min(last_s, one.released_s))
        last_s = one.released_s
    return found

"""One step's edges: how each contact stands, how it took a move, and how much came unasked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

GAP_US = 100_000
"""Edges of one contact that are closer than this belong to one move of it."""

MOST_EDGES = 4_000
"""Of one contact in one step; of more, only the latest are kept."""


@dataclass(frozen=True, slots=True)
class Move:
    """A change of level with its bounces: microseconds from first to last edge, and edges."""

    us: int
    edges: int


class Watch:
    """Follows all contacts; ``begin`` starts a step."""

    def __init__(self, levels: Mapping[str, bool | None], now_us: int) -> None:
        self.levels = dict(levels)
        self._edges: dict[str, list[tuple[int, bool | None]]] = {}
        self._counts: dict[str, int] = {}
        self._first = dict(self.levels)
        self.began_us = now_us

    def begin(self, now_us: int) -> None:
        """Begin a step."""
        self._edges.clear()
        self._counts.clear()
        self._first = dict(self.levels)
        self.began_us = now_us

    def edge(self, t_us: int, name: str, made: bool | None) -> None:
        """Take an edge; the same level again is none."""
        if name not in self.levels or self.levels[name] is made:
            return
        self.levels[name] = made
        self._counts[name] = self._counts.get(name, 0) + 1
        edges = self._edges.setdefault(name, [])
        edges.append((t_us, made))
        if len(edges) > MOST_EDGES:
            self._first[name] = edges[MOST_EDGES // 2 - 1][1]
            del edges[: MOST_EDGES // 2]

    def last_edge_us(self, name: str) -> int:
        """When a contact last moved in this step; the step's beginning if it did not."""
        edges = self._edges.get(name)
        return edges[-1][0] if edges else self.began_us

    def edges(self, name: str) -> int:
        """How often a contact changed in this step."""
        return self._counts.get(name, 0)

    def standing(self, from_us: int, to_us: int) -> dict[str, bool | None]:
        """How each contact stood for most of a time; ``None`` if it was lost at any moment."""
        return {name: self._stood(name, from_us, to_us) for name in self.levels}

    def move(self, name: str) -> Move | None:
        """The change of level with its bounces, the longest if there were several; or ``None``."""
        bursts: list[list[int]] = []
        for t_us, _ in self._edges.get(name, ()):
            if bursts and t_us - bursts[-1][-1] <= GAP_US:
                bursts[-1].append(t_us)
            else:
                bursts.append([t_us])
        # Away and back again is an even number of edges: noise, or a slip of the hand.
        # A pulse of noise that the step's beginning or end cuts in two is short.
        moves = [Move(burst[-1] - burst[0], len(burst)) for burst in bursts if len(burst) % 2]
        return max(moves, key=lambda move: move.us, default=None)

    def _stood(self, name: str, from_us: int, to_us: int) -> bool | None:
        edges = self._edges.get(name)
        if not edges:
            return self.levels[name]
        made_us, at_us, level = 0, from_us, self._first[name]
        for t_us, made in edges:
            if t_us > from_us:
                if level is None:
                    return None
                made_us += (min(t_us, to_us) - at_us) if level else 0
                at_us = min(t_us, to_us)
            level = made
        if level is None:
            return None
        made_us += (to_us - at_us) if level else 0
        return made_us * 2 > to_us - from_us

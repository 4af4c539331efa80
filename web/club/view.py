"""One board of many boxes: each box is drawn by itself, and what is silent is drawn as unknown."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from firmware_py.gathering.layouts import with_keys
from firmware_py.gathering.names import on_board, title_of
from firmware_py.gathering.words import SAYS
from firmware_py.logbook.records import StandingRecord
from web.club.boxes import Box
from web.club.reading import NodeRecord
from web.live.board import Board
from web.live.crews import AtWork, at_work
from web.live.keys import keys_view
from web.live.plan import Plan
from web.live.view import Known, View, frame, sections

CLOCK_APART_US = 2_000_000
"""Clocks that are closer than this are not worth a word."""
MERGED = ("rows", "violations", "contacts", "outputs")
LISTED = ("desk", "faults", "speeds", "spurs")


def node_view(node: NodeRecord, *, heard: bool) -> View:
    """A box as the board's head shows it; ``heard`` is whether the gatherer itself lives."""
    state = node.state if heard else "silent"
    says = SAYS.get(state, SAYS["silent"])
    if node.trouble and state == "unreadable":
        says = f"{says} ({node.trouble[:120]})"
    return {
        "name": node.name,
        "title": title_of(node.name),
        "state": state,
        "says": says,
        "clock_says": clock_says(node.offset_us),
        "heard_wall_us": node.heard_wall_us,
    }


def clock_says(offset_us: int | None) -> str:
    """How far a box's clock is off, in words; empty where it is not worth one.

    >>> clock_says(301_000_000), clock_says(-3_000_000), clock_says(40_000)
    ('its clock is 5 min 1 s ahead', 'its clock is 3 s behind', '')
    """
    if offset_us is None or abs(offset_us) < CLOCK_APART_US:
        return ""
    minutes, seconds = divmod(round(abs(offset_us) / 1_000_000), 60)
    hours, minutes = divmod(minutes, 60)
    parts = [(hours, "h"), (minutes, "min"), (seconds, "s")]
    said = " ".join(f"{count} {unit}" for count, unit in parts if count)
    return f"its clock is {said} {'ahead' if offset_us > 0 else 'behind'}"


def one_board(boxes: Mapping[str, Box]) -> Board:
    """All boxes' boards as one. Of a box that is not proven now, nothing safe is told."""
    whole = Board()
    for box in boxes.values():
        board = box.board
        whole.last_id = max(whole.last_id, board.last_id)
        whole.t_us = max(whole.t_us, board.t_us)
        whole.work.update(board.work)
        whole.speeds += board.speeds
        whole.speed_of.update(board.speed_of)
        whole.faults.update(board.faults)
        if box.live:
            whole.stages.update(board.stages)
            whole.stage_since_us.update(board.stage_since_us)
            whole.outputs.update(board.outputs)
    whole.speeds.sort()
    return whole


class Drawing:
    """Draws the boxes, and draws again only those that have changed."""

    def __init__(self) -> None:
        self._kept: dict[str, tuple[object, View]] = {}
        self._plans: dict[str, tuple[object, Plan]] = {}

    def sections(
        self,
        boxes: Mapping[str, Box],
        nodes: Sequence[NodeRecord],
        known: Known,
        fits: Mapping[str, str],
        *,
        heard: bool,
    ) -> View:
        """Every section of the screen except its head.

        ``known`` is the whole of it, ``heard`` whether the gatherer itself is alive.
        """
        working = at_work(known.jobs, known.ticks, known.board.work) if known.opened else ()
        # A key may hang at one box and fit at another: where it is concerns both.
        hooks = {
            key.hook.name: known.standing[key.hook.name]
            for key in known.plan.layout.keys
            if key.hook.name in known.standing
        }
        whole = frame(known)
        drawn = {
            name: self._box(box, self._plan(box, fits, known), known, working, hooks, heard=heard)
            for name, box in boxes.items()
        }
        self._kept = {name: one for name, one in self._kept.items() if name in boxes}
        for section in MERGED:
            whole[section] = {
                key: value for view in drawn.values() for key, value in view[section].items()
            }
        for section in LISTED:
            whole[section] = [one for view in drawn.values() for one in view[section]]
        whole["desk"].sort(key=lambda one: (one["word"] == "held", one["since_us"]))
        whole["speeds"].sort(key=lambda one: -one["t_us"])
        whole["open_count"] = sum(view["open_count"] for view in drawn.values())
        whole["keys"] = keys_view(known.plan, known.standing, working, live=heard)
        whole["nodes"] = {node.name: node_view(node, heard=heard) for node in nodes}
        return whole

    def _plan(self, box: Box, fits: Mapping[str, str], known: Known) -> Plan:
        mark = (id(box.plan), id(known.plan))
        kept = self._plans.get(box.node.name)
        if kept is None or kept[0] != mark:
            layout = with_keys(box.plan.layout, fits, known.plan.layout.keys)
            kept = mark, Plan(layout)
            self._plans[box.node.name] = kept
        return kept[1]

    def _box(  # noqa: PLR0913 - each is something that is drawn
        self,
        box: Box,
        plan: Plan,
        known: Known,
        working: tuple[AtWork, ...],
        hooks: Mapping[str, StandingRecord],
        *,
        heard: bool,
    ) -> View:
        live, name = heard and box.live, box.node.name
        homes = {hook: one.settled for hook, one in hooks.items()}
        changes = (box.session.id, box.changes, box.revision)
        mark = (*changes, live, known.opened, working, id(plan), homes)
        kept = self._kept.get(name)
        if kept is not None and kept[0] == mark:
            return kept[1]
        shown = known._replace(
            board=box.board,
            plan=plan,
            violations=box.violations,
            standing={**hooks, **box.standing},
            live=live,
        )
        view = sections(shown, working)
        own = on_board(name, "")
        for section in ("contacts", "outputs"):
            view[section] = {key: one for key, one in view[section].items() if key.startswith(own)}
        for row in view["rows"].values():
            row["node"], row["heard"] = name, live
        self._kept[name] = mark, view
        return view

"""From a session's outset and entries, one at a time, to its evening. Pure; holds no entries.

What the debrief does not draw, lamps above all, is never read: ``KINDS`` are those it wants.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from web.debrief.evening import (
    Evening,
    FaultSpan,
    Pass,
    Refusal,
    Span,
    Stay,
    Wait,
    WaitFor,
)
from web.live.board import Board, Line, begin

KINDS = ("stage", "phase", "foreman", "brake-test", "speed", "fault", "refused")
PACE_KINDS = ("phase", "foreman", "brake-test")
"""What times and waits need, for the sessions that are only compared with."""

AT_REST = frozenset({"secured", "idle"})
_ASKING = frozenset({"asked", "held"})


class Gathering:
    """Takes entries in order; ``evening`` ends whatever still goes on."""

    def __init__(self, outset: Mapping[str, Any]) -> None:
        self._board: Board = begin(outset)
        self._evening = Evening(0, ended=False)
        self._stages: dict[str, tuple[str, int]] = {}
        self._phases: dict[str, tuple[str, int]] = {}
        self._steps: dict[str, tuple[str, str, int]] = {}
        self._waits: dict[tuple[str, WaitFor], int] = {}
        self._faults: dict[tuple[str, str], int] = dict(self._board.faults)
        for switch, stage in self._board.stages.items():
            self._stages[switch] = stage, 0
        for spur, work in self._board.work.items():
            self._phases[spur] = work.phase, 0
            self._step(spur, work.phase, work.next, 0)

    @property
    def t_us(self) -> int:
        """When the last entry was."""
        return self._board.t_us

    def take(self, line: Line, ident: int) -> None:
        """Take the next entry; ``ident`` is its id."""
        self._board.fold(line, ident)
        t_us = self._board.t_us
        match line["what"]:
            case "stage":
                self._stage(line["switch"], line["stage"], t_us)
            case "phase":
                self._phase(line["spur"], line["phase"], t_us)
                self._step(line["spur"], line["phase"], line["next"], t_us)
            case "foreman":
                self._foreman(line["spur"], line["is"], t_us)
            case "brake-test":
                self._brake_test(line["spur"], line["is"], t_us)
            case "speed":
                self._evening.passes.append(Pass(t_us, line["at"], float(line["mph"])))
            case "fault":
                self._fault(line, t_us)
            case "refused":
                said = line.get("spur"), line["command"], line["why"]
                self._evening.refusals.append(Refusal(t_us, *said))
            case _:
                pass

    def evening(self, length_us: int, *, ended: bool) -> Evening:
        """The evening up to ``length_us``, which is not before the last entry."""
        made = self._evening
        made.length_us, made.ended = max(length_us, self.t_us), ended
        made.work = self._board.work
        end_us = made.length_us
        for switch in list(self._stages):
            self._stage(switch, "", end_us, still=True)
        for spur in list(self._phases):
            self._phase(spur, "", end_us, still=True)
            self._step(spur, "", None, end_us, still=True)
        for spur, what in list(self._waits):
            self._end_wait(spur, what, end_us, "", still=True)
        for (fault, at), began_us in self._faults.items():
            made.faults.append(FaultSpan(fault, at, began_us, end_us, open=True))
        for spans in (made.stays, made.waits, made.faults):
            spans.sort(key=lambda span: span.began_us)
        return made

    def _stage(self, switch: str, stage: str, t_us: int, *, still: bool = False) -> None:
        before, since_us = self._stages.get(switch, (stage, t_us))
        self._stages[switch] = stage, t_us
        if before not in AT_REST and t_us > since_us:
            spans = self._evening.stages.setdefault(switch, [])
            spans.append(Span(before, since_us, t_us, still))

    def _phase(self, spur: str, phase: str, t_us: int, *, still: bool = False) -> None:
        before, since_us = self._phases.get(spur, ("idle", t_us))
        if phase == before:
            return
        self._phases[spur] = phase, t_us
        if before not in AT_REST and t_us > since_us:
            spans = self._evening.phases.setdefault(spur, [])
            spans.append(Span(before, since_us, t_us, still))

    def _step(
        self, spur: str, phase: str, step: str | None, t_us: int, *, still: bool = False
    ) -> None:
        before = self._steps.get(spur)
        if before is not None and before[:2] == (phase, step):
            return
        if before is not None and t_us > before[2]:
            self._evening.stays.append(Stay(spur, *before[:2], before[2], t_us, still))
        if step is None:
            self._steps.pop(spur, None)
        else:
            self._steps[spur] = phase, step, t_us

    def _foreman(self, spur: str, word: str, t_us: int) -> None:
        if word in _ASKING:
            self._waits.setdefault((spur, WaitFor.FOREMAN), t_us)
        else:
            self._end_wait(spur, WaitFor.FOREMAN, t_us, word)

    def _brake_test(self, spur: str, word: str, t_us: int) -> None:
        if word == "running":
            self._waits.setdefault((spur, WaitFor.BRAKE_TEST), t_us)
        else:
            self._end_wait(spur, WaitFor.BRAKE_TEST, t_us, word)

    def _end_wait(
        self, spur: str, what: WaitFor, t_us: int, ending: str, *, still: bool = False
    ) -> None:
        began_us = self._waits.pop((spur, what), None)
        if began_us is not None:
            self._evening.waits.append(Wait(spur, what, began_us, t_us, ending, still))

    def _fault(self, line: Line, t_us: int) -> None:
        fault, at = line["fault"], line["at"]
        if not line["ended"]:
            self._faults[fault, at] = t_us
            return
        began_us = self._faults.pop((fault, at), t_us)
        if (began_us, fault) != (0, "lost") or t_us > SETTLING_US:
            self._evening.faults.append(FaultSpan(fault, at, began_us, t_us))


SETTLING_US = 12_000_000
"""A contact that is unknown as a session begins and settles by then was only not settled yet."""

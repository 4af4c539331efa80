"""The board is folded from entries alone, and comes to just what the core itself says."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from web_filled import LAYOUT, Filler, busy_evening, outset

from firmware_py.core.core import Core
from firmware_py.layout.reading import parse_layout
from firmware_py.logbook.reading import Reader
from web.live.board import Board, begin
from web.live.plan import Plan, short_name

TAPES = Path(__file__).parent.parent / "tapes" / "expected"


def folded(lines: list[dict[str, object]], start: dict[str, object]) -> Board:
    board = begin(start)
    for line in lines:
        board.fold(line)
    return board


def at_rest() -> dict[str, object]:
    return outset(Core(parse_layout(LAYOUT.read_text(encoding="utf-8"), LAYOUT.name)))


def test_a_folded_evening_is_what_the_core_says_at_its_end(filler: Filler) -> None:
    busy_evening(filler)
    entries = Reader(filler.engine).entries(filler.session_id)
    board = folded([entry.line for entry in entries], at_rest())
    core = filler.core
    assert board.stages == {key: stage.value for key, stage in core.stages().items()}
    assert board.outputs == outset(core)["outputs"]
    assert {spur: job.foreman for spur, job in board.work.items() if spur in core.foremen()} == {
        spur: word.value for spur, word in core.foremen().items()
    }
    phases = {key: (phase.value, step) for key, (phase, step) in core.phases().items()}
    assert {spur: (job.phase, job.next) for spur, job in board.work.items()} == phases
    assert set(board.faults) == {(fault.value, at) for fault, at in core.faults()}


@pytest.mark.parametrize("tape", sorted(TAPES.glob("*.jsonl")), ids=lambda tape: tape.stem)
def test_every_tape_leaves_its_last_word_on_the_board(tape: Path) -> None:
    lines = [json.loads(line) for line in tape.read_text(encoding="utf-8").splitlines()]
    board = folded(lines, {})
    stages = {line["switch"]: line["stage"] for line in lines if line["what"] == "stage"}
    assert board.stages == stages
    nexts = {line["spur"]: line["next"] for line in lines if line["what"] == "phase"}
    assert {spur: board.work[spur].next for spur in nexts} == nexts


def test_waiting_is_counted_from_when_the_step_became_due() -> None:
    board = begin({"phases": {"kiln": ["idle", None]}})
    board.fold({"t": 5.0, "what": "phase", "spur": "kiln", "phase": "opening", "next": "work"})
    board.fold({"t": 9.0, "what": "phase", "spur": "kiln", "phase": "working", "next": "work"})
    assert board.at("kiln").since_us == 5_000_000
    board.fold({"t": 9.5, "what": "phase", "spur": "kiln", "phase": "closing", "next": "gate"})
    assert board.at("kiln").since_us == 9_500_000


def test_an_entry_of_an_unknown_kind_changes_only_the_time() -> None:
    board = begin({})
    assert board.fold({"t": 3.0, "what": "weather", "of": "valley"}) is None
    assert board == Board(t_us=3_000_000)


def test_a_speed_is_kept_with_the_violation_of_its_instant() -> None:
    board = begin({})
    board.fold({"t": 6.02, "what": "speed", "at": "approach", "mph": 11.89})
    board.fold({"t": 6.02, "what": "speed", "at": "other", "mph": 3.0})
    board.fold(
        {"t": 6.02, "what": "violation", "number": 2, "rule": "over-speed", "at": "approach"}
    )
    board.fold({"t": 9.0, "what": "violation", "number": 3, "rule": "over-speed", "at": "approach"})
    assert board.speed_of == {2: 11.89}


def test_a_refusal_is_kept_for_its_spur_and_an_acknowledgement_names_none() -> None:
    board = begin({})
    line = {"t": 1.0, "what": "refused", "command": "release", "spur": "kiln", "why": "not asked"}
    assert board.fold(line) == "kiln"
    assert board.at("kiln").refused == "release: not asked"
    about = {"t": 2.0, "what": "refused", "command": "acknowledge", "violation": 9, "why": "none"}
    assert board.fold(about) is None


def test_a_fault_is_there_until_it_ends() -> None:
    board = begin({"faults": [["lost", "kiln.detector"]]})
    line = {"t": 1.0, "what": "fault", "fault": "lost", "at": "kiln.detector", "ended": True}
    board.fold(line)
    assert board.faults == {}
    board.fold(line)
    assert board.faults == {}


def test_rows_are_spurs_in_file_order_then_switches_alone() -> None:
    plan = Plan(parse_layout(LAYOUT.read_text(encoding="utf-8"), LAYOUT.name))
    assert list(plan.rows) == ["quarry", "dairy", "tannery", "coal", "rope", "lead-switch"]
    assert plan.rows_of("quarry-gate.hasp") == ("quarry",)
    assert plan.rows_of("quarry-key") == ("quarry",)
    assert plan.rows_of("approach") == ("quarry",)  # Where the trap's ends are.


@pytest.mark.parametrize(
    ("name", "row", "short"),
    [
        ("Foundry north flag", "Foundry", "north flag"),
        ("foundry flag", "Foundry", "flag"),
        ("Foundryman's flag", "Foundry", "Foundryman's flag"),
        ("Foundry", "Foundry", "Foundry"),
        ("West flag", "Foundry", "West flag"),
    ],
)
def test_a_name_does_not_repeat_its_heading(name: str, row: str, short: str) -> None:
    assert short_name(name, row) == short

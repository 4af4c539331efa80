"""The prover on the shipped core, and on cores with a fault in them."""

import json
from pathlib import Path

import pytest

from firmware_py.commands.main import main
from firmware_py.core.core import Core
from firmware_py.core.names import Command
from firmware_py.core.orders import Order
from firmware_py.layout.reading import read_layout
from firmware_py.proof.explore import explore
from firmware_py.proof.fragments import fragments, likeness
from firmware_py.proof.keeping import verdict_path
from firmware_py.proof.outset import read_off
from firmware_py.proof.proving import Refuted, prove, prove_fragment
from firmware_py.proof.verdict import Verdict, kept, save, words_on
from firmware_py.proof.watched import watched
from tests.proof.proof_layouts import TEXTS, layout_of, many
from tests.proof.seeded_faults import FAULTS
from tests.proof.seeding import found_with
from tests.proof.walking import walk_on

SEEDED = (
    "moved-while-locked",
    "out-of-order-off",
    "green-on-a-fault",
    "bolt-unsound",
    "never-idle",
    "righted-untold",
    "shown-unchanged",
    "work-done-ignored",
)


@pytest.mark.parametrize("name", ["plain", "gate", "lockless"])
def test_the_shipped_core_is_proven(name: str) -> None:
    proof = prove_fragment(layout_of(name))
    assert proof.refuted == ()
    assert proof.looked_at > 1000
    assert proof.longest_way >= 4


def test_there_are_faults_for_every_rule_and_output() -> None:
    assert len(FAULTS) >= 40
    assert len({fault.name for fault in FAULTS}) == len(FAULTS)


@pytest.mark.parametrize("name", SEEDED)
def test_a_seeded_fault_is_found_and_its_tape_shows_it(name: str) -> None:
    fault = next(it for it in FAULTS if it.name == name)
    found = found_with(name)
    numbers, shown = found["numbers"], found["shown"]
    assert isinstance(numbers, list)
    assert isinstance(shown, list)
    assert fault.number in numbers
    assert any(shown), found["what"]


@pytest.mark.parametrize("name", ["plain", "flags", "lockless"])
def test_a_random_walk_stays_within_what_was_visited(name: str) -> None:
    assert walk_on(name, 3000, seed=3) == []


def test_what_a_core_remembers_is_all_in_cells() -> None:
    """Whatever differs between a core that has lived and a new one is a cell, a time, or a mark.

    A new attribute that remembers something has to be given a cell, or named here.
    """
    layout = layout_of("whole")
    watch = watched(layout)
    core, t_us = Core(layout), 1
    for name in core.settled():
        for made in (True, False, True, None, True):
            t_us += 7_000_000
            core.reading(t_us, name, made)
    for command in (Command.ASK, Command.RELEASE, Command.START_BRAKE_TEST, Command.HAND_BACK):
        core.order(t_us, Order(command, "sallow", cars=1))
    [stand] = core._machines.stands
    known = {cell.name for cell in read_off(watch, core, 0)}
    times = {"_stage_us", "_detector_us", "spur_us", "faults", "turn", "next_step", "says"}
    transient = {"dirty", "_begins", "_done"}
    fresh = Core(layout)._machines.stands[0]
    for lived, new in ((stand.switch, fresh.switch), (stand.spurs[0], fresh.spurs[0])):
        for attribute in type(lived).__slots__:
            value = getattr(lived, attribute)
            if value is None or isinstance(value, bool | int | str):
                remembered = any(name.split()[-1] == attribute for name in known)
                fixed = value == getattr(new, attribute)
                assert remembered or fixed or attribute in times | transient, attribute


def test_spurs_alike_are_proven_once_and_say_so() -> None:
    proofs = prove(many(3), workers=1)
    assert [proof.like for proof in proofs] == [None, "sallow-0-switch", "sallow-0-switch"]


def test_what_differs_in_more_than_names_is_not_alike() -> None:
    [one, other] = fragments(many(2, alike=False))
    assert likeness(one) != likeness(other)
    assert len({likeness(layout_of(name)) for name in TEXTS}) == len(TEXTS)


def test_two_explorations_agree() -> None:
    first, second = (explore(layout_of("lockless")).watch.memory.parts for _ in range(2))
    assert [part.states for part in first] == [part.states for part in second]


LAYOUT = TEXTS["lockless"]


def test_the_command_says_what_was_proven_and_keeps_the_verdict(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "sallow.toml"
    path.write_text(LAYOUT, encoding="utf-8")
    assert main(["prove", str(path), "--explain"]) == 0
    out = capsys.readouterr().out
    assert "sallow-switch: proven" in out
    assert "1. green tells the truth" in out
    verdict = kept(verdict_path(str(tmp_path / "sallow.sqlite")), read_layout(path))
    assert verdict is not None
    assert verdict.fails == ()
    assert "This layout is proven" in words_on(verdict)


def test_a_layout_that_cannot_be_read(tmp_path: Path) -> None:
    assert main(["prove", str(tmp_path / "none.toml")]) == 2


def test_a_verdict_counts_for_its_own_layout_only(tmp_path: Path) -> None:
    layout, other = layout_of("lockless"), layout_of("plain")
    path = tmp_path / "it.proof.json"
    save(path, Verdict.of(layout, prove(layout, workers=1)))
    assert kept(path, layout) is not None
    assert kept(path, other) is None
    path.write_text("{", encoding="utf-8")
    assert kept(path, layout) is None
    assert "not proven yet" in words_on(None)


def test_run_refuses_a_layout_that_fails_unless_told_to_go_on(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "sallow.toml"
    path.write_text(LAYOUT, encoding="utf-8")
    layout = read_layout(path)
    [proof] = prove(layout, workers=1)
    failed = proof.__class__("sallow-switch", 1, 1, 1, 1, (Refuted(2, "a bolt is drawn"),))
    save(verdict_path(str(tmp_path / "sallow.sqlite")), Verdict.of(layout, [failed]))
    served: list[object] = []
    monkeypatch.setattr("firmware_py.commands.run.serve", lambda *a: served.append(a) or 0)
    assert main(["run", str(path), "--simulated"]) == 1
    told = capsys.readouterr()
    assert "NOT proven" in told.out
    assert "--go-on" in told.err
    assert not served
    assert main(["run", str(path), "--simulated", "--go-on"]) == 0
    assert len(served) == 1


def test_tapes_of_what_is_false_are_written_where_replay_finds_them(tmp_path: Path) -> None:
    found = found_with("power-on-a-guess")
    tapes = found["tapes"]
    assert isinstance(tapes, list)
    layout = tmp_path / "plain.toml"
    layout.write_text(TEXTS["plain"], encoding="utf-8")
    tape = tmp_path / "found.jsonl"
    tape.write_text("".join(json.dumps(row) + "\n" for row in tapes[0]), encoding="utf-8")
    assert main(["replay", str(layout), str(tape)]) == 0

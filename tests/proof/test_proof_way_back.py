"""The longest way back (property 4): found, played, told, and kept with the verdict."""

from pathlib import Path
from random import Random

import msgspec
import pytest

from firmware_py.commands.main import main
from firmware_py.core.names import Phase
from firmware_py.layout.model import Layout
from firmware_py.layout.reading import parse_layout
from firmware_py.proof.explore import explore
from firmware_py.proof.places import Evening
from firmware_py.proof.proving import Proof, prove
from firmware_py.proof.putting_back import Hands
from firmware_py.proof.recovery import Recovery, recovery
from firmware_py.proof.verdict import Verdict, kept, save
from firmware_py.proof.way import WayBack
from tests.proof.proof_layouts import CHOCK, FOREMAN, HEAD, KEY, SENSES, SPUR, TEXTS, layout_of
from tests.proof.proof_layouts import GATE as GATE_TEXT
from tests.proof.proof_layouts import SWITCH as SWITCH_TEXT
from tests.proof.seeding import found_with
from tests.proof.walking import Walker

BEHIND = HEAD + SWITCH_TEXT + SPUR + FOREMAN + SENSES + GATE_TEXT + KEY
BEHIND += CHOCK.replace("contacts", 'behind = "sallow-gate"\ncontacts')
TWO_SPURS = TEXTS["plain"] + SPUR.replace('"sallow"', '"far-sallow"')


def recovered(layout: Layout) -> Recovery:
    """The way back on an explored core, with nothing shown."""
    explored = explore(layout)
    [stand] = explored.watch.stands
    stand.fitted = []
    return recovery(explored, stand)


def put_back(evening: Evening) -> list[str]:
    """Put everything back, see that it is, and tell the moves."""
    hands = Hands(evening)
    hands.all_back()
    assert {phase for phase, _ in evening.core.phases().values()} <= {Phase.IDLE}
    assert set(evening.core.stages().values()) == {"secured"}
    return hands.said


@pytest.mark.parametrize("name", ["bare", "bare-gate", "derail", "lockless"])
def test_the_longest_way_was_played(name: str) -> None:
    found = recovered(layout_of(name))
    assert found.way is not None
    assert len(found.way.moves) == found.moves


def test_it_is_told_in_the_crews_words() -> None:
    way = recovered(layout_of("plain")).way
    assert way == WayBack(
        (
            "Sallow switch lies for the spur and is locked, with a train on its points.",
            "Sallow is occupied between its points and its clearance point.",
            "The foreman has released Sallow.",
            "Sallow key is on its hook.",
        ),
        (
            "Hand Sallow back to the foreman.",
            "Move the train off Sallow switch.",
            "Clear Sallow up to its clearance point.",
            "Take Sallow key off its hook.",
            "Unlock Sallow switch.",
            "Line Sallow switch for the main.",
            "Lock Sallow switch.",
            "Hang Sallow key on its hook.",
        ),
    )


@pytest.mark.parametrize("text", [BEHIND, TWO_SPURS], ids=["behind", "two spurs"])
def test_what_lies_behind_a_gate_and_a_second_spur_take_their_moves(text: str) -> None:
    found = recovered(parse_layout(text, "way.toml"))
    assert found.way is not None
    assert len(found.way.moves) == found.moves
    assert found.stuck == ()


def test_a_chock_behind_a_locked_gate_is_reached_through_it() -> None:
    evening = Evening(parse_layout(BEHIND, "way.toml"), {"sallow-chock.rack": True})
    assert put_back(evening) == [
        "Take Sallow key off its hook.",
        "Unlock Sallow gate.",
        "Open Sallow gate.",
        "Set Sallow chock against a wheel.",
        "Shut Sallow gate.",
        "Lock Sallow gate.",
        "Hang Sallow key on its hook.",
    ]


@pytest.mark.parametrize("name", ["plain", "flags", "gate", "lockless"])
def test_no_misuse_at_random_needs_more_moves(name: str) -> None:
    layout = layout_of(name)
    explored = explore(layout)
    [stand] = explored.watch.stands
    walker = Walker(layout, explored, seed=11)
    stand.fitted = []
    most = recovery(explored, stand).moves
    evening, random, taken = Evening(layout, {}), Random(3), set[int]()
    for _ in range(60):
        walker.begin()
        for _ in range(random.randrange(60)):
            walker.step()
        settled_us = max(walker.t_us, walker.core.now_us) + 10_000_000
        walker.core.advance(settled_us)
        evening.core, evening.t_us = walker.core, settled_us + 1
        taken.add(len(put_back(evening)))
    assert max(taken) <= most
    assert len(taken) >= 3


def test_where_there_is_no_way_none_is_told() -> None:
    found = found_with("never-idle")
    assert 4 in found["numbers"]  # type: ignore[operator]
    assert found["way"] is None


def test_the_command_tells_the_longest_of_all(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "sallow.toml"
    path.write_text(TEXTS["lockless"], encoding="utf-8")
    assert main(["prove", str(path)]) == 0
    out = capsys.readouterr().out
    assert "the longest way back takes 4 moves; it begins so:" in out
    assert "   1. Move the train off Sallow switch." in out
    assert "   3. Line Sallow switch for the main." in out
    assert "   4. Say that the work on Sallow is done." in out


def test_a_verdict_keeps_it_and_an_older_one_has_none(tmp_path: Path) -> None:
    layout = layout_of("lockless")
    path = tmp_path / "it.proof.json"
    done = prove(layout, workers=1)
    save(path, Verdict.of(layout, done))
    found = kept(path, layout)
    assert found is not None
    assert found.way == done[0].way
    older = msgspec.json.decode(path.read_bytes())
    del older["way"]
    path.write_bytes(msgspec.json.encode(older))
    found = kept(path, layout)
    assert found is not None
    assert found.way is None


def test_the_longest_of_several_switches_is_kept() -> None:
    short, long = WayBack((), ("Lock it.",)), WayBack((), ("Unlock it.", "Lock it."))
    proofs = [Proof("one", 1, 1, 1, 1, way=short), Proof("two", 1, 1, 1, 2, way=long)]
    assert Verdict.of(layout_of("lockless"), proofs).way == long

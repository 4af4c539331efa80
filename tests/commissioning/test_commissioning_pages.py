"""What pages are shown of a commissioning, what can be asked of it, and whether it lives."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest

from firmware_py.commands.commission_screen import page_address
from firmware_py.commands.main import main
from firmware_py.commissioning.asking import LATE, Asked, Say, Signing, ill_formed, refusal
from firmware_py.commissioning.commission import HOLD_US, Commission
from firmware_py.commissioning.model import Answer, Said, Step
from firmware_py.commissioning.showing import About, Shown, State, about_of, shown_of
from firmware_py.logbook.sitting import SittingRecord
from web.commission.heart import LISTEN_S, SILENT_S, Heart

from .layouts import KILN, kiln

US = 1_000_000


def commission() -> Commission:
    layout = kiln()
    return Commission(layout, 0, dict.fromkeys((one.name for one in layout.contacts), False))


def prepared() -> Commission:
    """One whose contacts are prepared; its leads are listened to until 11 s and a little."""
    one = commission()
    assert refusal(one, Asked(1, 1, Say.DONE), rests=False) is None
    one.answer(Answer(1, Said.DONE), US)
    return one


def test_a_step_is_answered_once() -> None:
    one = prepared()
    assert refusal(one, Asked(1, 1, Say.DONE), rests=False) == (
        "too late: this step was answered already"
    )
    one.time(US + HOLD_US)
    assert one.instruction.step is Step.LISTEN
    assert refusal(one, Asked(1, 1, Say.DONE), rests=False) == LATE
    says = refusal(one, Asked(1, 2, Say.SKIP), rests=False)
    assert says == "the leads are listened to; wait until that is over"
    one.time(20 * US)
    assert one.instruction.step is Step.MAKE
    assert refusal(one, Asked(1, 3, Say.SKIP), rests=False) is None
    assert refusal(one, Asked(1, 3, Say.SEEN), rests=False) == "seen is no answer to this step"


def test_at_rest_nothing_but_going_on_is_taken() -> None:
    one = commission()
    for say in Say:
        says = refusal(one, Asked(1, 1, say), rests=True)
        assert (says is None) is (say is Say.GO_ON)
    assert refusal(one, Asked(1, 1, Say.GO_ON), rests=False) == "the test goes on already"


@pytest.mark.parametrize(
    ("asked", "wrong"),
    [
        (Asked(1, 1, Say.DONE), False),
        (Asked(1, 1, Say.REPEAT), True),
        (Asked(1, 1, Say.REPEAT, stand="kiln-switch"), False),
        (Asked(1, 1, Say.SIGN), True),
        (Asked(1, 1, Say.SIGN, signing=Signing(" ")), True),
        (Asked(1, 1, Say.SIGN, signing=Signing("N. Tallow")), False),
        (Asked(1, 1, Say.DONE, signing=Signing("N. Tallow")), True),
        (Asked(1, 1, Say.DONE, seen=("red of kiln-switch",)), True),
    ],
    ids=lambda one: "" if isinstance(one, bool) else f"{one.say} {one.stand} {one.signing}",
)
def test_what_goes_with_what(asked: Asked, wrong: bool) -> None:
    assert (ill_formed(asked) is not None) is wrong


def test_after_a_pause_all_is_prepared_anew() -> None:
    one = prepared()
    one.time(US + HOLD_US)
    one.prepare(3 * US)
    assert one.instruction.step is Step.PREPARE
    assert one.instruction.number == 3
    assert one.waits


def test_whoever_moves_is_shown_with_the_contact_asked_about() -> None:
    one = prepared()
    one.time(US + HOLD_US)
    one.edge(2 * US, "kiln-key.hook", True)
    assert shown_of(one, State.ASKING, 2 * US).levels == {"kiln-key.hook": True}
    assert shown_of(one, State.ASKING, 2 * US).left_us == 10 * US  # Whole seconds, rounded up.
    one.edge(3 * US, "kiln-key.hook", False)
    one.time(20 * US)
    about = one.instruction.about
    one.edge(21 * US, "kiln-key.hook", None)
    assert shown_of(one, State.ASKING, 21 * US).levels == {about: False, "kiln-key.hook": None}
    assert shown_of(one, State.ASKING, 21 * US).stand == "kiln-switch"


def test_what_is_shown_can_be_read_again() -> None:
    one = commission()
    about = about_of(one.wires, "Kiln lane", "spurlock commission", simulated=True)
    assert msgspec.json.decode(msgspec.json.encode(about), type=About) == about
    shown = shown_of(one, State.ASKING, 0)
    assert msgspec.json.decode(msgspec.json.encode(shown), type=Shown) == shown
    names = [*about.stands[0].contacts, *about.stands[0].outputs, *about.stands[1].contacts]
    assert sorted(names) == sorted((*one.wires.contacts, *one.wires.outputs))


def test_a_heart_that_was_never_seen_to_beat_proves_nothing() -> None:
    shown = shown_of(commission(), State.ASKING, 0)
    heart = Heart()
    assert heart.word(None, 0.0) == "none"
    heart.note(SittingRecord(1, 1, "", "", 5), 0.0)
    assert heart.word(shown, 1.0) == "listening"
    assert heart.word(shown, LISTEN_S + 0.1) == "silent"
    heart.note(SittingRecord(1, 1, "", "", 6), 5.0)
    assert heart.word(shown, 5.1) == "live"
    heart.note(SittingRecord(1, 1, "", "", 6), 6.0)  # Something else was written.
    assert heart.word(shown, 5.0 + SILENT_S + 0.1) == "silent"
    heart.note(SittingRecord(2, 1, "", "", 0), 20.0)
    assert heart.word(shown, 20.1) == "live"
    stopped = msgspec.structs.replace(shown, state=State.STOPPED)
    assert heart.word(stopped, 20.1) == "ended"


@pytest.mark.parametrize("option", [["--host", "127.0.0.1"], ["--port", "8080"]], ids=" ".join)
def test_the_pages_options_go_with_the_page(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], option: list[str]
) -> None:
    layout = tmp_path / "kiln.toml"
    layout.write_text(KILN, encoding="utf-8")
    assert main(["commission", str(layout), "--simulated", *option]) == 2
    assert "give --phone as well" in capsys.readouterr().err
    assert not layout.with_suffix(".sqlite").exists()


def test_the_page_is_found_where_it_is_served() -> None:
    assert page_address("127.0.0.1", 8080) == "http://127.0.0.1:8080/commission"
    assert page_address("::1", 80) == "http://[::1]:80/commission"
    everywhere = page_address("0.0.0.0", 8080)
    assert everywhere.endswith(":8080/commission")
    assert "0.0.0.0" not in everywhere

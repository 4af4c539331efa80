"""``spurlock check`` and ``spurlock new`` as functions: what they print, write and answer."""

import argparse
import io
from pathlib import Path

import pytest
from pytest_mock import MockerFixture

import firmware_py
from firmware_py.commands import check as check_command
from firmware_py.commands import new as new_command
from firmware_py.commands.check import check
from firmware_py.commands.new import new
from firmware_py.layout.advice import advice_on, pins_of
from firmware_py.layout.model import ChipLine, ForemanKind, Lock
from firmware_py.layout.reading import read_layout

DEMO = Path(firmware_py.__file__).parent / "demo" / "layouts" / "wendlebeck.toml"
BROKEN = Path(__file__).parents[1] / "broken_layouts"


def checked(path: Path, *, pins: bool = False) -> tuple[int, str, str]:
    out, err = io.StringIO(), io.StringIO()
    return check(path, out, pins=pins, err=err), out.getvalue(), err.getvalue()


def asked(path: Path, answers: str, *, yes: bool = False) -> tuple[int, str, str]:
    out, err = io.StringIO(), io.StringIO()
    return new(path, io.StringIO(answers), out, yes=yes, err=err), out.getvalue(), err.getvalue()


def test_the_demo_has_what_a_visitor_should_see() -> None:
    layout = read_layout(DEMO)
    assert len(layout.spurs) >= 5
    chocked = {chock.spur for chock in layout.chocks}
    assert any(spur.grade_percent >= 1 and spur.id in chocked for spur in layout.spurs)
    assert any(gate.key for gate in layout.gates)
    assert layout.derails
    flags = [flag.spur for flag in layout.flags]
    assert any(flags.count(spur.id) == 2 for spur in layout.spurs)
    assert any(switch.lock is Lock.NONE for switch in layout.switches)
    assert {spur.foreman for spur in layout.spurs} == set(ForemanKind)
    assert any(trap.limit_mph for trap in layout.traps)
    for switch in layout.switches:
        assert switch.lamps.green
        assert switch.lamps.red
        assert switch.lamps.white
    assert any(switch.bolt for switch in layout.switches)
    assert any(switch.buzzer for switch in layout.switches)
    assert any(spur.power for spur in layout.spurs)
    assert sum(isinstance(pin, ChipLine) for _, pin in pins_of(layout)) > 26
    assert {piece.about for piece in advice_on(layout)} == {"team-track-switch"}


def test_check_of_the_demo_fits_one_screen() -> None:
    status, out, err = checked(DEMO)
    assert (status, err) == (0, "")
    lines = out.splitlines()
    assert len(lines) <= 24
    assert max(map(len, lines)) <= 80
    assert "Wendlebeck valley" in out
    for spur in read_layout(DEMO).spurs:
        assert spur.id in out


def test_check_lists_pins_when_asked() -> None:
    _, out, _ = checked(DEMO, pins=True)
    layout = read_layout(DEMO)
    listed = out[out.index("Pins") :].splitlines()[1:]
    assert len(listed) == len(pins_of(layout))
    assert listed[0].split() == ["GPIO", "4", "upper-key.hook"]


def test_check_prints_every_problem_and_nothing_else(tmp_path: Path) -> None:
    path = tmp_path / "layout.toml"
    path.write_text('[layout]\nnome = "A"\nscale = "XX"\n', encoding="utf-8")
    status, out, err = checked(path)
    assert (status, out) == (2, "")
    assert [line.split(" ")[0] for line in err.splitlines()] == [f"{path}:2:", f"{path}:3:"]


def test_new_with_every_default_passes_check_without_advice(tmp_path: Path) -> None:
    path = tmp_path / "layout.toml"
    status, out, err = asked(path, "", yes=True)
    assert (status, err) == (0, "")
    assert str(path) in out
    assert checked(path)[0] == 0
    assert advice_on(read_layout(path)) == ()


def test_new_with_enter_alone_writes_the_same(tmp_path: Path) -> None:
    asked(tmp_path / "a.toml", "", yes=True)
    assert asked(tmp_path / "b.toml", "\n" * 11)[0] == 0
    assert (tmp_path / "a.toml").read_text() == (tmp_path / "b.toml").read_text()


def test_new_writes_what_was_answered(tmp_path: Path) -> None:
    path = tmp_path / "layout.toml"
    answers = [
        *('Pit "9" \\ Mühle', "h0", "2"),
        *("Slag pit", "no", "yes", "y", "2", "1,5 %", "", "auto"),
        *("Foreman", "", "", "", "0", "", "", "none"),
    ]
    status, _, err = asked(path, "\n".join(answers) + "\n")
    assert (status, err) == (0, "")
    layout = read_layout(path)
    assert (layout.name, layout.scale) == ('Pit "9" \\ Mühle', "H0")
    pit, other = layout.spurs
    assert (pit.id, pit.name, pit.grade_percent) == ("slag-pit", "Slag pit", 1.5)
    assert [spur.foreman for spur in layout.spurs] == [ForemanKind.AUTO, ForemanKind.NONE]
    assert [switch.lock for switch in layout.switches] == [Lock.NONE, Lock.PADLOCK]
    assert [gate.spur for gate in layout.gates] == ["slag-pit"]
    assert [derail.spur for derail in layout.derails] == ["slag-pit"]
    assert [chock.spur for chock in layout.chocks] == ["slag-pit"]
    assert len(layout.flags) == 2
    assert other.id != "foreman"


def test_new_asks_again_until_an_answer_can_be_used(tmp_path: Path) -> None:
    answers = "\nfurlong\nN\nmany\n0\n1\n\nperhaps\nyes\n\n\n-1\n3\nsteep\n0\n\nnobody\nhost\n"
    status, out, _ = asked(tmp_path / "layout.toml", answers)
    assert status == 0
    assert 'no scale "furlong"' in out
    assert out.count("whole number from 1 to 50") == 2
    assert "yes or no" in out
    assert len(read_layout(tmp_path / "layout.toml").flags) == 3


def test_new_goes_on_with_auto_when_the_header_is_full(tmp_path: Path) -> None:
    path = tmp_path / "layout.toml"
    assert asked(path, "\n\n20\n" + "\n" * 160)[0] == 0
    pins = [pin for _, pin in pins_of(read_layout(path))]
    assert len(pins) - pins.count(None) == 22
    assert checked(path)[0] == 0


def test_new_never_overwrites(tmp_path: Path) -> None:
    path = tmp_path / "layout.toml"
    path.write_text("mine", encoding="utf-8")
    status, out, err = asked(path, "", yes=True)
    assert (status, out) == (2, "")
    assert "never overwritten" in err
    assert path.read_text(encoding="utf-8") == "mine"


def test_new_leaves_nothing_when_the_answers_end(tmp_path: Path) -> None:
    path = tmp_path / "layout.toml"
    status, _, err = asked(path, "\n\n")
    assert status == 2
    assert "nothing was written" in err
    assert not path.exists()


def test_new_leaves_nothing_on_ctrl_c(tmp_path: Path, mocker: MockerFixture) -> None:
    path, err = tmp_path / "layout.toml", io.StringIO()
    answers = mocker.Mock(spec=io.StringIO)
    answers.readline.side_effect = ["Pit\n", KeyboardInterrupt]
    assert new(path, answers, io.StringIO(), err=err) == 130
    assert "nothing was written" in err.getvalue()
    assert not path.exists()


def test_new_in_a_folder_that_is_not_there(tmp_path: Path) -> None:
    status, _, err = asked(tmp_path / "none" / "layout.toml", "", yes=True)
    assert status == 2
    assert "can't be written" in err


def test_both_commands_through_a_parser(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    parser = argparse.ArgumentParser(prog="spurlock")
    subparsers = parser.add_subparsers()
    check_command.add_parser(subparsers)
    new_command.add_parser(subparsers)
    path = str(tmp_path / "layout.toml")
    for words in (["new", path, "--yes"], ["check", path, "--pins"]):
        args = parser.parse_args(words)
        assert args.run(args) == 0
    args = parser.parse_args(["check", str(BROKEN / "pin-28.toml")])
    assert args.run(args) == 2
    assert "the header has no GPIO 28" in capsys.readouterr().err

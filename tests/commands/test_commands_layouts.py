"""Layouts that can't be read, and the help texts, through the console script."""

import re
from pathlib import Path

import pytest
from commands_console import BROKEN_LAYOUTS, LAYOUT, TAPES, Console

from firmware_py.commands.main import COMMANDS

EXPECTED = re.compile(r"# (?:line (\d+)|no line): (.*)")
EACH_LAYOUT = pytest.mark.parametrize("path", BROKEN_LAYOUTS, ids=lambda path: path.stem)


def must_say(path: Path) -> tuple[str, str]:
    """The place and the words that a broken layout's own first line asks for."""
    wanted = EXPECTED.fullmatch(path.read_text(encoding="utf-8").splitlines()[0])
    assert wanted is not None
    return (f"{path}:{wanted[1]}: " if wanted[1] else f"{path}: "), wanted[2]


def test_there_are_broken_layouts() -> None:
    assert len(BROKEN_LAYOUTS) >= 30


@EACH_LAYOUT
def test_check_of_a_broken_layout(spurlock: Console, path: Path) -> None:
    told = spurlock("check", path)
    place, words = must_say(path)
    first = told.err.splitlines()[0]
    assert (told.status, told.out) == (2, "")
    assert first.startswith(place)
    assert words in first
    assert all(line.startswith(str(path)) and line.isprintable() for line in told.err.splitlines())


@EACH_LAYOUT
def test_replay_on_a_broken_layout(spurlock: Console, path: Path) -> None:
    told = spurlock("replay", path, TAPES[0])
    place, words = must_say(path)
    assert (told.status, told.out) == (2, "")
    assert told.err.startswith(place)
    assert words in told.err
    assert len(told.err.splitlines()) == 1


@pytest.mark.parametrize("command", ["check", "replay"])
def test_a_layout_that_is_not_there(spurlock: Console, tmp_path: Path, command: str) -> None:
    path = tmp_path / "none.toml"
    more = [TAPES[0]] if command == "replay" else []
    told = spurlock(command, path, *more)
    assert (told.status, told.out) == (2, "")
    assert told.err.startswith(f"{path}: ")
    assert len(told.err.splitlines()) == 1


def test_a_broken_layout_comes_before_a_broken_tape(spurlock: Console, tmp_path: Path) -> None:
    told = spurlock("replay", BROKEN_LAYOUTS[0], tmp_path / "none.jsonl")
    assert told.err.startswith(str(BROKEN_LAYOUTS[0]))
    assert len(told.err.splitlines()) == 1


def test_check_of_the_sample_layout(spurlock: Console) -> None:
    told = spurlock("check", LAYOUT)
    assert (told.status, told.err) == (0, "")
    assert "Quarry Landing" in told.out


@pytest.mark.parametrize("command", COMMANDS)
def test_help_of_each_command(spurlock: Console, command: str) -> None:
    told = spurlock(command, "--help")
    assert (told.status, told.err) == (0, "")
    assert told.out.startswith(f"usage: spurlock {command}")
    assert f"spurlock {command}" in told.out.split("\n", 1)[1], "an example shows how it is used"


def test_help_names_every_command(spurlock: Console) -> None:
    told = spurlock("--help")
    assert (told.status, told.err) == (0, "")
    for command in COMMANDS:
        assert re.search(rf"^ +{command}( |$)", told.out, re.MULTILINE)
    assert "never for a real railway" in told.out


def test_version(spurlock: Console) -> None:
    told = spurlock("--version")
    assert told.status == 0
    assert re.fullmatch(r"spurlock \d+\.\d+\S*\n", told.out)


@pytest.mark.parametrize(
    "words",
    [(), ("shunt",), ("replay",), ("replay", "a.toml"), ("check",), ("check", "a.toml", "b.toml")],
    ids=" ".join,
)
def test_words_that_make_no_command(spurlock: Console, words: tuple[str, ...]) -> None:
    told = spurlock(*words)
    assert (told.status, told.out) == (2, "")
    assert told.err.startswith("usage: spurlock")
    assert "Traceback" not in told.err

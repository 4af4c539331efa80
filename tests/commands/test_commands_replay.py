"""``spurlock replay`` of tapes that can be read: the lines it prints, byte for byte."""

import io
import json
import subprocess
import sys
from pathlib import Path

import pytest
from commands_broken_tapes import GOOD, GOOD_LINES
from commands_console import EXPECTED, LAYOUT, TAPES, Console

from firmware_py.core.entries import What

SCRIPT = Path(sys.executable).with_name("spurlock")
MODULE = [sys.executable, "-m", "firmware_py.commands.main"]
ROOT = Path(__file__).resolve().parents[2]

EACH_TAPE = pytest.mark.parametrize("tape", TAPES, ids=lambda path: path.stem)


def expected(tape: Path) -> str:
    """The lines that a sample tape must print."""
    return (EXPECTED / tape.name).read_text(encoding="utf-8")


def test_there_are_tapes() -> None:
    assert len(TAPES) >= 6
    assert [tape.name for tape in TAPES] == sorted(path.name for path in EXPECTED.glob("*.jsonl"))


@EACH_TAPE
def test_a_sample_tape_prints_exactly_what_is_expected(spurlock: Console, tape: Path) -> None:
    told = spurlock("replay", LAYOUT, tape)
    assert told.out == expected(tape)
    assert (told.status, told.err) == (0, "")


@EACH_TAPE
@pytest.mark.parametrize("only", [*What, "violation,stage", "phase, foreman", "stage,stage,"])
def test_only_keeps_those_kinds_and_their_order(spurlock: Console, tape: Path, only: str) -> None:
    kept = {word.strip() for word in only.split(",")}
    lines = expected(tape).splitlines(keepends=True)
    told = spurlock("replay", LAYOUT, tape, "--only", only)
    assert told.out == "".join(line for line in lines if json.loads(line)["what"] in kept)
    assert (told.status, told.err) == (0, "")


def test_only_does_not_number_violations_anew(spurlock: Console) -> None:
    tape = next(tape for tape in TAPES if tape.stem == "walked-away")
    told = spurlock("replay", LAYOUT, tape, "--only", "violation")
    numbers = [json.loads(line)["number"] for line in told.out.splitlines()]
    assert numbers == list(range(1, len(numbers) + 1))
    assert len(numbers) == 7


@pytest.mark.parametrize("only", ["colour", "violation,colour", "Violation", "", ",", "*"])
def test_only_with_a_kind_there_is_not(spurlock: Console, only: str) -> None:
    told = spurlock("replay", LAYOUT, TAPES[0], "--only", only)
    assert (told.status, told.out) == (2, "")
    assert "--only" in told.err
    assert "violation" in told.err.splitlines()[-1]
    assert "Traceback" not in told.err


@pytest.mark.parametrize("command", [MODULE, [str(SCRIPT)]], ids=["module", "console script"])
def test_as_a_program_of_its_own(command: list[str]) -> None:
    if not Path(command[0]).exists():
        pytest.skip("the console script is not installed beside this interpreter")
    tape = TAPES[0]
    words = [*command, "replay", str(LAYOUT), str(tape)]
    told = subprocess.run(words, capture_output=True, cwd=ROOT, timeout=60, check=False)
    assert told.stdout == (EXPECTED / tape.name).read_bytes()
    assert (told.returncode, told.stderr) == (0, b"")


def test_as_a_program_with_a_broken_tape(tmp_path: Path) -> None:
    path = tmp_path / "broken.jsonl"
    path.write_bytes(GOOD + b'{"t": 2, "con')
    words = [*MODULE, "replay", str(LAYOUT), str(path)]
    told = subprocess.run(words, capture_output=True, cwd=ROOT, timeout=60, check=False)
    assert told.stdout == GOOD_LINES.encode()
    assert told.stderr.startswith(f"{path}:2: ".encode())
    assert (told.returncode, told.stderr.count(b"\n")) == (2, 1)


def test_whoever_reads_may_stop_reading(tmp_path: Path) -> None:
    """As in ``spurlock replay ... | head -1``: a closed pipe is no error to tell of."""
    path = tmp_path / "long.jsonl"
    swings = (
        f'{{"t": {n}, "contact": "kiln-switch.hasp", "made": {"false" if n % 2 else "true"}}}\n'
        for n in range(1, 4001)
    )
    path.write_text("".join(swings), encoding="utf-8")
    words = [*MODULE, "replay", str(LAYOUT), str(path)]
    with subprocess.Popen(
        words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=ROOT
    ) as program:
        assert program.stdout is not None
        assert program.stderr is not None
        assert program.stdout.readline().startswith(b'{"t": 1.02, ')
        program.stdout.close()
        assert program.stderr.read() == b""
        assert program.wait(timeout=60) == 0


def _on_standard_input(monkeypatch: pytest.MonkeyPatch, tape: bytes) -> None:
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(tape)))


def test_a_tape_on_standard_input(spurlock: Console, monkeypatch: pytest.MonkeyPatch) -> None:
    _on_standard_input(monkeypatch, TAPES[0].read_bytes())
    told = spurlock("replay", LAYOUT, "-")
    assert (told.status, told.out, told.err) == (0, expected(TAPES[0]), "")


def test_a_broken_tape_on_standard_input(
    spurlock: Console, monkeypatch: pytest.MonkeyPatch
) -> None:
    _on_standard_input(monkeypatch, GOOD + b"nonsense\n")
    told = spurlock("replay", LAYOUT, "-")
    assert (told.status, told.out) == (2, GOOD_LINES)
    assert told.err.startswith("standard input:2: ")
    assert len(told.err.splitlines()) == 1


@pytest.mark.parametrize(
    "tape",
    [b"", b"\n", b"\n \r\n\t\n", b'{"t": 0, "end": true}\n', b'{"t": 5, "end": true}'],
    ids=["empty", "a blank line", "blank lines", "an end at once", "only an end"],
)
def test_a_tape_on_which_nothing_happens(spurlock: Console, tmp_path: Path, tape: bytes) -> None:
    path = tmp_path / "quiet.jsonl"
    path.write_bytes(tape)
    told = spurlock("replay", LAYOUT, path)
    assert (told.status, told.out, told.err) == (0, "", "")


@pytest.mark.parametrize("line_end", [b"\n", b"\r\n", b"\n\n", b"\n   \n\t\n"])
def test_blank_lines_and_line_ends_change_nothing(
    spurlock: Console, tmp_path: Path, line_end: bytes
) -> None:
    path = tmp_path / "spaced.jsonl"
    path.write_bytes(line_end.join([b"", *TAPES[0].read_bytes().splitlines(), b""]))
    told = spurlock("replay", LAYOUT, path)
    assert (told.status, told.out, told.err) == (0, expected(TAPES[0]), "")


def test_a_tape_without_a_last_line_end(spurlock: Console, tmp_path: Path) -> None:
    path = tmp_path / "cut.jsonl"
    path.write_bytes(TAPES[0].read_bytes().rstrip(b"\n"))
    assert spurlock("replay", LAYOUT, path).out == expected(TAPES[0])


def test_without_an_end_the_tape_ends_at_its_last_line(spurlock: Console, tmp_path: Path) -> None:
    """A settling due after the last line never comes; with an end it does."""
    path = tmp_path / "endless.jsonl"
    opened = b'{"t": 1, "contact": "kiln-switch.hasp", "made": false}\n'
    path.write_bytes(opened)
    assert spurlock("replay", LAYOUT, path).out == ""
    path.write_bytes(opened + b'{"t": 1.02, "end": true}\n')
    assert '"unlocked"' in spurlock("replay", LAYOUT, path).out


def test_the_same_instant_is_not_falling(spurlock: Console, tmp_path: Path) -> None:
    path = tmp_path / "same.jsonl"
    path.write_bytes(GOOD + b'{"t": 1, "command": "hold", "spur": "kiln"}\n')
    told = spurlock("replay", LAYOUT, path, "--only", "foreman")
    assert [json.loads(line)["is"] for line in told.out.splitlines()] == ["asked", "held"]
    assert (told.status, told.err) == (0, "")


def test_what_the_crew_did_wrong_is_no_error(spurlock: Console, tmp_path: Path) -> None:
    """Refusals and violations are what a tape is for: the status is 0."""
    path = tmp_path / "wrong.jsonl"
    path.write_bytes(
        b'{"t": 1, "command": "release", "spur": "kiln"}\n'
        b'{"t": 2, "command": "acknowledge", "violation": 99}\n'
        b'{"t": 3, "contact": "kiln-switch.normal", "made": false}\n'
        b'{"t": 4, "end": true}\n'
    )
    told = spurlock("replay", LAYOUT, path)
    kinds = [json.loads(line)["what"] for line in told.out.splitlines()]
    assert kinds == ["refused", "refused", "stage", "violation"]
    assert told.status == 0

"""The commands: what they print, and the one line where something can't be."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from commands_console import LAYOUT, Console

SHEET = """
name = "No. 7"
top_mph = 24
"""
PASSES = "".join(
    f'[[pass]]\nstep = {step}\nway = "{way}"\nmph = {mph}\n'
    for step, mph in {4: 6.0, 8: 14.0, 12: 22.0, 16: 30.0, 20: 37.0, 24: 43.0, 28: 48.0}.items()
    for way in ("forward", "reverse")
)
STOP = "[stop]\ncv4 = 12\nfrom_step = 28\nstopped_mm = 900\n"


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    path = tmp_path / "no-7.toml"
    path.write_text(SHEET + PASSES)
    return path


def test_notches_tells_every_setting(spurlock: Console, sheet: Path) -> None:
    said = spurlock("notches", sheet)
    assert said.status == 0
    for word in (
        "No. 7: 23.9 scale mph",
        "CV2 ",
        "CV6 ",
        "CV5 ",
        "CV3 ",
        "CV4 ",
        "CV88: ",
        "foretold",
    ):
        assert word in said.out
    whole = json.loads(spurlock("notches", sheet, "--json").out)
    assert len(whole["settings"]["table"]) == 28


def test_a_measured_stop_corrects_it(spurlock: Console, sheet: Path) -> None:
    before = json.loads(spurlock("notches", sheet, "--json").out)
    sheet.write_text(SHEET + PASSES + STOP)
    after = json.loads(spurlock("notches", sheet, "--json").out)
    assert after["correction"] != before["correction"]
    assert "corrected by the measured stop" in spurlock("notches", sheet).out


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "missing required field `name`"),
        ("name = ", "Invalid value"),
        ('name = "A"\n', "moved at 0 throttle steps"),
        ('name = "A"\nscale = "XX"\n', "there is no scale 'XX'"),
        ('name = "A"\nscale = "HO"\nratio = 87.1\n', "both given"),
        ('name = "A"\nspeed = 3\n', "unknown field `speed`"),
        (f"{SHEET}stop_mm = nan\n{PASSES}", "ordinary number"),
        (f"{SHEET}ratio = inf\n{PASSES}", "ordinary number"),
        (f"{SHEET}ratio = 0\n{PASSES}", "above 0"),
        (f"{SHEET}{PASSES}[stop]\ncv4 = 12\nfrom_step = 28\nstopped_mm = 0\n", "above 0"),
        (f"{SHEET}[in_force]\nsteps = 27\n{PASSES}", "14, 28 or 126"),
    ],
)
def test_a_sheet_that_cannot_be_used_is_one_line(
    spurlock: Console, tmp_path: Path, text: str, says: str
) -> None:
    path = tmp_path / "wrong.toml"
    path.write_text(text)
    said = spurlock("notches", path)
    assert said.status == 2
    assert said.out == ""
    assert len(said.err.splitlines()) == 1
    assert says in said.err


def test_no_file(spurlock: Console, tmp_path: Path) -> None:
    said = spurlock("notches", tmp_path / "none.toml")
    assert (said.status, said.err.count("No such file")) == (2, 1)


def test_rolls_judges_every_spur(spurlock: Console) -> None:
    said = spurlock("rolls", LAYOUT, "--tilt", "6", "1000")
    assert said.status == 0
    assert "keeps rolling from 0.60 %" in said.out
    assert "kiln: 1.2 %, needs 1" in said.out
    assert "scale mph at the clearance point" in said.out
    few = spurlock("rolls", LAYOUT, "--ramp", "9", "1500", "--cuts", "9")
    assert "needs 9, has 1  TOO FEW" in few.out


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--ramp", "9", "9"), "longer than the ramp"),
        (("--tilt", "0", "1000"), "above 0"),
        (("--tilt", "nan", "1000"), "ordinary number"),
        (("--speeds", "10", "10", "500"), "second speed must be below"),
        (("--tilt", "6", "1000", "--way", "0"), "above 0"),
        (("--tilt", "6", "1000", "--cuts", "0"), "from 1 to 50"),
    ],
)
def test_tests_that_cannot_be_are_one_line(
    spurlock: Console, words: tuple[str, ...], says: str
) -> None:
    said = spurlock("rolls", LAYOUT, *words)
    assert said.status == 2
    assert says in said.err
    assert len(said.err.splitlines()) == 1


def test_neither_the_commands_nor_the_screen_load_scipy() -> None:
    """They live long, or are many; the child that fits does."""
    code = (
        "import sys; import web.serve, firmware_py.commands.main as m; m.parser();"
        "sys.exit('numpy' in sys.modules or 'scipy' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0

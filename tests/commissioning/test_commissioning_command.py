"""``spurlock commission`` as a process of its own, on simulated pins, with typed lines."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from firmware_py.commands.commission_busy import engine_on
from firmware_py.health.record import EngineHealth, path_of
from firmware_py.logbook.commissioning import records, unfinished
from firmware_py.logbook.opening import open_engine

SMALL = """\
[layout]
name = "Kiln lane"

[[switch]]
id = "kiln-switch"
contacts = { hasp = "auto", normal = "auto", reverse = "auto" }
lamps = { green = "auto", red = "auto" }
"""
HASP, NORMAL, REVERSE = "kiln-switch.hasp", "kiln-switch.normal", "kiln-switch.reverse"
SPURLOCK = (sys.executable, "-m", "firmware_py.commands.main")


@pytest.fixture
def layout(tmp_path: Path) -> Path:
    path = tmp_path / "kiln.toml"
    path.write_text(SMALL, encoding="utf-8")
    return path


def commission(layout: Path, *lines: str, more: tuple[str, ...] = ()) -> tuple[int, str]:
    """Run it with these lines typed ahead; status, and what it printed."""
    words = (*SPURLOCK, "commission", str(layout), "--simulated", "--listen", "1", *more)
    typed = "".join(f"{line}\n" for line in lines)
    ended = subprocess.run(
        words, input=typed, capture_output=True, text=True, timeout=90, check=False
    )
    return ended.returncode, ended.stdout + ended.stderr


def moved(contact: str) -> tuple[str, ...]:
    return f"make {contact}", "", f"break {contact}", ""


BY = ("--by", "N. Tallow")
LAMPS = ("n", "green of kiln-switch", "red of kiln-switch")


def test_all_right_from_the_first_line_to_the_printed_record(layout: Path) -> None:
    status, said = commission(layout, *["do"] * 7, "n", "y", "y", "", *[""] * 4, more=BY)
    assert status == 0, said
    assert "Close the hasp of the kiln switch and lock it." in said
    assert "Is the red lamp of the kiln switch lit?" in said
    assert "5 of 5 wires tested, 0 faults found." in said
    assert "Condition left:  in order" in said
    engine = open_engine(str(layout.with_suffix(".sqlite")))
    [record] = records(engine, "Kiln lane")
    engine.dispose()
    assert record.signed is not None
    assert (record.signed.by_whom, record.simulated, record.findings) == ("N. Tallow", True, ())
    days = (record.signed.due_wall_us - record.signed.signed_wall_us) / 86_400e6
    assert days == 365
    status, printed = commission(layout, more=("--record",))
    assert status == 0
    assert printed.strip() in said


def test_swapped_wires_and_lamps_are_named_and_a_repeat_finds_them_mended(layout: Path) -> None:
    wrong = ("do", *moved(NORMAL), *moved(HASP), "do", "do")
    lamps = ("n", "red of kiln-switch", "green of kiln-switch")
    mended = ("repeat kiln-switch", *["do"] * 7, *LAMPS)
    status, said = commission(layout, *wrong, *lamps, *mended, "", *[""] * 4, more=BY)
    assert status == 0, said
    first, _, later = said.partition("Mend, and")
    assert f"SWAPPED: {HASP} and {NORMAL} are swapped" in " ".join(first.split())
    assert "SWAPPED: green of kiln-switch and red of kiln-switch are swapped" in " ".join(
        first.split()
    )
    assert "No fault was found." in later
    assert f"mended: {HASP} and {NORMAL} are swapped" in later


def test_faults_that_are_left_are_in_the_record(layout: Path) -> None:
    typed = ("do", "", "", "", "", "do", "do", "do", "do", "skip", *["", *[""] * 4])
    status, said = commission(layout, *typed, more=BY)
    assert status == 1, said
    assert f"DEAD: {HASP} is dead: its circuit never closed" in said
    assert "Condition left:  not in order: 1 fault left" in said
    assert "green of kiln-switch: not tested" in said


def test_it_goes_on_where_it_was_stopped(layout: Path) -> None:
    status, said = commission(layout, "do", "do", "do", "do", "stop")
    assert status == 1
    assert "To go on: spurlock commission" in said
    engine = open_engine(str(layout.with_suffix(".sqlite")))
    assert unfinished(engine, "Kiln lane", simulated=True) is not None
    assert unfinished(engine, "Kiln lane", simulated=False) is None
    engine.dispose()
    status, said = commission(layout, *["do"] * 5, *LAMPS, "", *[""] * 4, more=BY)
    assert status == 0, said
    assert "Going on where it was left" in said
    assert "Close the hasp" not in said
    assert "5 of 5 wires tested" in said


def test_nobody_signs_and_there_is_no_record(layout: Path) -> None:
    status, said = commission(layout, "end", "", "")
    assert status == 1
    assert "Nobody has signed" in said
    assert commission(layout, more=("--record",)) == (
        1,
        "Kiln lane has no record yet; make one with: spurlock commission\n",
    )


def test_what_it_can_not_understand_it_says(layout: Path) -> None:
    typed = ("please", "make kiln-switch.lock", "repeat mill", "help", "stop")
    _, said = commission(layout, *typed)
    assert "'please' is no answer to this" in said
    assert "no contact 'kiln-switch.lock'; there are kiln-switch.hasp" in said
    assert "no stand or thing 'mill'" in said
    assert "make CONTACT, break CONTACT" in said


def test_it_is_refused_beside_an_engine(layout: Path) -> None:
    logbook = str(layout.with_suffix(".sqlite"))
    words = (*SPURLOCK, "run", str(layout), "--simulated", "--port", "0")
    running = subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        until = time.monotonic() + 60
        while not path_of(logbook, EngineHealth).exists() and time.monotonic() < until:
            time.sleep(0.2)
        status, said = commission(layout, "do")
        assert status == 2
        assert "an engine runs on" in said
        assert 'Stop "spurlock run"' in said
    finally:
        os.kill(running.pid, signal.SIGINT)
        running.wait(60)
    assert engine_on(logbook) is None

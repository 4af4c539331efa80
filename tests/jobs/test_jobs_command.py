"""``spurlock jobs``: out to a file, in from one, and what is said where that can't be."""

from __future__ import annotations

import io
import sys
from pathlib import Path

import pytest
from commands_console import Console
from jobs_samples import NAILS, SLATE
from web_filled import Filler

from firmware_py.commands.demo import _make_jobs
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.screen.job_files import write_jobs
from firmware_py.logbook.screen.jobs import drop_job, jobs_of

VALLEY = "Wendlebeck valley"


@pytest.fixture
def evening(tmp_path: Path) -> Path:
    file = tmp_path / "evening.toml"
    file.write_text(write_jobs([SLATE, NAILS]), "utf-8")
    return file


def test_in_and_out_again(spurlock: Console, filler: Filler, path: Path, evening: Path) -> None:
    said = spurlock("jobs", path, "--import", evening)
    assert (said.status, said.out, said.err) == (0, "2 jobs are added.\n", "")
    assert [job.name for job in jobs_of(filler.engine, "Tarn Hollow")] == ["Slate run", "Nails"]
    said = spurlock("jobs", path, "--export")
    assert (said.status, said.out, said.err) == (0, evening.read_text("utf-8"), "")


def test_in_the_place_of_the_list(
    spurlock: Console, filler: Filler, path: Path, evening: Path
) -> None:
    assert spurlock("jobs", path, "--import", evening).status == 0
    evening.write_text(write_jobs([NAILS]), "utf-8")
    said = spurlock("jobs", path, "--import", evening, "--replace")
    assert said.out == "1 job is on the list of Tarn Hollow now.\n"
    kept = jobs_of(filler.engine, "Tarn Hollow")
    assert [(job.id, job.name) for job in kept] == [(2, "Nails")]


def test_from_standard_input(
    spurlock: Console, filler: Filler, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    typed = io.TextIOWrapper(io.BytesIO(write_jobs([NAILS]).encode()))
    monkeypatch.setattr(sys, "stdin", typed)
    assert spurlock("jobs", path, "--import", "-").out == "1 job is added.\n"


@pytest.mark.usefixtures("filler")
@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"[[job]]\nname = 3\n", ":2: job 1: name must be a text in quotes, not 3\n"),
        (b"[[job]]\nname = 'a'\n[[job.stop]]\nspur = 'moon'\n", ':4: job 1 "a": stop 1: there is'),
        (b"\n# \xff\n", ":2: byte 0xff is not UTF-8; save the file as UTF-8 text\n"),
        (b"#" * (1024 * 1024 + 1), ": the file is larger than 1 MiB; jobs are short text\n"),
    ],
    ids=["type", "stranger", "bytes", "size"],
)
def test_a_file_that_is_wrong_takes_nothing_in(
    spurlock: Console, path: Path, tmp_path: Path, data: bytes, says: str
) -> None:
    file = tmp_path / "wrong.toml"
    file.write_bytes(data)
    said = spurlock("jobs", path, "--import", file)
    assert (said.status, said.out) == (2, "")
    assert f"{file}{says}" in said.err
    assert "[[job]]" not in spurlock("jobs", path, "--export").out


def test_what_is_not_there_is_told_and_not_made(
    spurlock: Console, path: Path, evening: Path, tmp_path: Path
) -> None:
    for way in (("--export",), ("--import", str(evening))):
        said = spurlock("jobs", path, *way)
        assert said.status == 2
        assert "there is no such logbook" in said.err
    assert not path.exists()
    open_engine(str(path)).dispose()
    assert "no layout was guarded with it yet" in spurlock("jobs", path, "--export").err
    assert spurlock("jobs", path).status == 2


@pytest.mark.usefixtures("filler")
def test_a_file_that_is_not_there(spurlock: Console, path: Path, tmp_path: Path) -> None:
    said = spurlock("jobs", path, "--import", tmp_path / "none.toml")
    assert said.status == 2
    assert "none.toml: the file can't be read: No such file" in said.err
    assert "can't be read" in spurlock("jobs", path, "--import", tmp_path).err


def test_the_demo_gives_its_logbook_jobs_once(path: Path) -> None:
    _make_jobs(str(path))
    _make_jobs(str(path))
    engine = open_engine(str(path))
    ready = jobs_of(engine, VALLEY)
    assert [job.name for job in ready] == ["Morning milk", "Lower valley turn", "Brick local"]
    assert any(stop.note for job in ready for stop in job.stops)
    for job in ready:
        drop_job(engine, job.id, 1)
    _make_jobs(str(path))
    assert jobs_of(engine, VALLEY) == []
    engine.dispose()

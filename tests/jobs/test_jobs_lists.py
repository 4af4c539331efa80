"""A layout's list of jobs: taken in, put in the place of another, dropped and brought back."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import msgspec
import pytest
from jobs_samples import NAILS, SLATE
from sqlalchemy import Engine

from firmware_py.logbook.errors import LogbookError
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.screen.job_lists import TooManyJobsError, bring_back, take_in
from firmware_py.logbook.screen.jobs import Job, drop_job, jobs_of, save_in, save_job

TARN, OTHER = "Tarn Hollow", "Elsewhere"


@pytest.fixture
def engine(path: Path) -> Iterator[Engine]:
    engine = open_engine(str(path))
    yield engine
    engine.dispose()


def named(engine: Engine, layout: str = TARN) -> list[tuple[int, str]]:
    return [(job.id, job.name) for job in jobs_of(engine, layout)]


def test_what_comes_in_is_added_at_the_end_as_new(engine: Engine) -> None:
    first = save_job(engine, TARN, SLATE, 1)
    more = take_in(engine, TARN, [msgspec.structs.replace(NAILS, id=first), SLATE], 2)
    assert named(engine) == [(first, "Slate run"), (more[0], "Nails"), (more[1], "Slate run")]


def test_replacing_keeps_the_ids_of_the_same_names_and_the_order_of_the_file(
    engine: Engine,
) -> None:
    one, two, three = take_in(engine, TARN, [SLATE, NAILS, Job("Third")], 1)
    elsewhere = save_job(engine, OTHER, NAILS, 1)
    changed = msgspec.structs.replace(SLATE, cars=9)
    new, same, kept = take_in(engine, TARN, [Job("New"), NAILS, changed], 2, replace=True)
    assert (same, kept) == (two, one)
    assert named(engine) == [(new, "New"), (two, "Nails"), (one, "Slate run")]
    assert jobs_of(engine, TARN)[2].cars == 9
    assert three in {job.id for job in jobs_of(engine, TARN, dropped=True) if job.dropped}
    assert named(engine, OTHER) == [(elsewhere, "Nails")]


def test_two_jobs_of_one_name_are_replaced_one_by_one(engine: Engine) -> None:
    ids = take_in(engine, TARN, [NAILS, NAILS], 1)
    assert take_in(engine, TARN, [NAILS, NAILS], 2, replace=True) == ids


def test_a_list_that_would_be_too_long_is_left_as_it_is(engine: Engine) -> None:
    take_in(engine, TARN, [NAILS] * 150, 1)
    with pytest.raises(TooManyJobsError, match="that would be 201 jobs; a layout can have 200"):
        take_in(engine, TARN, [SLATE] * 51, 2)
    assert len(named(engine)) == 150
    take_in(engine, TARN, [SLATE] * 200, 3, replace=True)
    assert len(named(engine)) == 200


def test_all_or_none(engine: Engine, monkeypatch: pytest.MonkeyPatch) -> None:
    one, two = take_in(engine, TARN, [NAILS, Job("Goes")], 1)
    calls = []

    def breaks(*arguments: object) -> int:
        calls.append(arguments)
        if len(calls) == 2:
            raise LogbookError("the disk is full")
        return save_in(*arguments)  # type: ignore[arg-type] # They are save_in's own.

    monkeypatch.setattr("firmware_py.logbook.screen.job_lists.save_in", breaks)
    with pytest.raises(LogbookError):
        take_in(engine, TARN, [Job("First"), Job("Second")], 2, replace=True)
    assert named(engine) == [(one, "Nails"), (two, "Goes")]


def test_a_dropped_job_can_be_brought_back_to_its_place(engine: Engine) -> None:
    first, second = take_in(engine, TARN, [SLATE, NAILS], 1)
    assert drop_job(engine, first, 2)
    assert named(engine) == [(second, "Nails")]
    assert bring_back(engine, first, 3)
    assert named(engine) == [(first, "Slate run"), (second, "Nails")]
    assert not bring_back(engine, first, 4)
    assert not bring_back(engine, 99, 4)

"""Jobs as TOML: what is written reads back the same, and what is wrong is told with its line."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from jobs_samples import LAYOUT, NAILS, SLATE, jobs_of_any_text, sound_jobs

from firmware_py.logbook.screen.job_checks import ill_formed
from firmware_py.logbook.screen.job_files import JobFileError, read_jobs, write_jobs
from firmware_py.logbook.screen.jobs import Job

PATIENT = settings(deadline=None, max_examples=30, suppress_health_check=list(HealthCheck))
STOP = '[[job.stop]]\nspur = "quarry"\n'
HEAD = '[[job]]\nname = "Slate"\n'


def read(text: str) -> list[Job]:
    return read_jobs(text, "evening.toml", LAYOUT)


@PATIENT
@given(st.lists(sound_jobs, min_size=1, max_size=3))
def test_out_and_in_and_out_is_equal(jobs: list[Job]) -> None:
    text = write_jobs(jobs)
    assert read(text) == jobs
    assert write_jobs(read(text)) == text


@PATIENT
@given(jobs_of_any_text)
def test_what_comes_in_is_sound_whatever_the_texts(job: Job) -> None:
    text = write_jobs([job]) if _has_no_surrogate(job) else ""
    try:
        found = read(text)
    except JobFileError:
        found = []
    assert found == ([] if ill_formed(job) or not text else [job])


def _has_no_surrogate(job: Job) -> bool:
    return repr(job).isascii() or "\\ud" not in ascii(job)


def test_a_file_by_hand_says_the_same_in_short() -> None:
    text = """\
[[job]]
name = "Slate run"
crew = "Ada and Bo"
cars = 6
rear = "marker"
keys = ["quarry-key"]
stop = [
  { spur = "quarry", note = "Nobody smokes here.\\r\\nThe shed is kept shut.", pull = [
    { car = "slate wagon", place = "at the loading bank" }, "empty tool car",
  ], spot = [{ car = "powder car", place = "behind the shed, alone" }] },
  { spur = "dairy", spot = ["milk\\tcar "] },
]
"""
    assert read(text) == [SLATE]


def test_what_is_blank_is_left_out() -> None:
    text = write_jobs([NAILS])
    for key in ("crew", "cars", "rear", "keys", "spot", "note"):
        assert f"\n{key} = " not in text


WRONG = {
    "": 'evening.toml: there is no job in this text; write [[job]] with name = "Milk run"',
    "[[job]\n": "evening.toml:1: this is not TOML: ",
    'name = "x"\n': 'evening.toml:1: unknown key "name"; known here: job',
    "job = 3\n": "evening.toml:1: job must be written as [[job]]",
    "[[job]]\n" + STOP: "evening.toml:1: job 1: name is missing; write name = ",
    HEAD: 'evening.toml:1: job 1 "Slate": a job needs at least one stop',
    HEAD + "colour = 3\n" + STOP: 'evening.toml:3: job 1 "Slate": unknown key "colour"; known',
    HEAD + "cars = 501\n" + STOP: 'evening.toml:3: job 1 "Slate": cars must be a number from 0',
    HEAD + "cars = 2.0\n" + STOP: "cars must be a whole number such as 6, not 2.0",
    HEAD + "cars = true\n" + STOP: "cars must be a whole number such as 6, not true",
    HEAD + "crew = ['a']\n" + STOP: "crew must be a text in quotes, not a list of 1",
    HEAD + 'rear = "dog"\n' + STOP: 'rear must be "marker" or "caboose", or left out, not "dog"',
    HEAD + 'keys = ["quary-key"]\n' + STOP: 'there is no key "quary-key" on this layout; did you',
    HEAD + 'keys = ["quarry-key", "quarry-key"]\n' + STOP: "named twice; name it once",
    HEAD + '[[job.stop]]\nspur = "quary"\n': (
        'evening.toml:4: job 1 "Slate": stop 1: there is no spur "quary" on this layout; did you '
        'mean "quarry"?'
    ),
    HEAD + "[[job.stop]]\n": 'evening.toml:3: job 1 "Slate": stop 1: spur is missing; write spur',
    HEAD + STOP + 'spott = ["x"]\n': (
        'evening.toml:5: job 1 "Slate": stop 1: unknown key "spott"; did you mean "spot"?'
    ),
    HEAD + STOP + "pull = 2\n": 'evening.toml:5: job 1 "Slate": stop 1: pull must be a list such',
    HEAD + STOP + 'pull = ["a", 2]\n': "stop 1: pull: car 2 must be a text in quotes, or {car =",
    HEAD + STOP + 'spot = [{place = "x"}]\n': "stop 1: spot: car 1: car is missing; write car =",
    HEAD
    + STOP
    + 'spot = [{car = "a", palce = "x"}]\n': 'unknown key "palce"; did you mean "place"?',
    HEAD + STOP + 'spot = [" "]\n': "stop 1: spot: car 1 is blank; write a few words",
    HEAD + STOP + 'note = "\\u0007"\n': "stop 1: note has characters that can't be shown",
    HEAD + STOP + f'note = "{"x" * 2001}"\n': "stop 1: note has 2001 characters; at most 2000 fit",
    f'[[job]]\nname = "{"x" * 121}"\n'
    + STOP: "name has 121 characters; at most 120 fit on its line",
    '[[job]]\nname = "a\\nb"\n' + STOP: "name must be a text that can be shown on one line",
    '[[job]]\nname = "a\\u202eb"\n' + STOP: "name must be a text that can be shown on one line",
    HEAD + 41 * STOP: "stops: there are 41; at most 40 fit a job",
    "x = " + 2000 * "[": "lists or tables are nested too deeply to be jobs",
    f"x = {'9' * 5000}": "this is not TOML: a number in it has too many digits",
}


@pytest.mark.parametrize(("text", "says"), WRONG.items(), ids=range(len(WRONG)))
def test_what_is_wrong_is_told(text: str, says: str) -> None:
    with pytest.raises(JobFileError) as told:
        read(text)
    assert says in str(told.value)


def test_every_problem_is_told_at_once_in_the_order_of_the_file() -> None:
    text = HEAD + "cars = 900\n" + STOP + HEAD + 'rear = "x"\n[[job.stop]]\nspur = "moon"\n'
    with pytest.raises(JobFileError) as told:
        read(text)
    assert [line.partition(":")[0] for line in told.value.lines()] == [
        "line 3",
        "line 8",
        "line 10",
    ]


def test_a_byte_order_mark_does_no_harm() -> None:
    assert [job.name for job in read("\ufeff" + HEAD + STOP)] == ["Slate"]

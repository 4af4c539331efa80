"""What a forecast is asked and what it answers, as records that go through JSON.

Times are seconds of the real clock. Light to import: no numpy here.
"""

from __future__ import annotations

from typing import Literal

import msgspec

from firmware_py.layout.model import ForemanKind

START, TRAVEL = "start", "travel"
"""Two times that belong to no spur: to a crew's first stop, and from one stop to the next."""
ANSWER = "answer"
"""How long a host takes for one crew's question, without the questions before it."""
WORK = "work"

MOST_CREWS, MOST_JOBS, MOST_STOPS = 50, 200, 1000
MOST_MINUTES = 24 * 60.0
FEWEST_EVENINGS, MOST_EVENINGS = 50, 100_000
LEAST_SCALE, MOST_SCALE = 0.05, 1000.0
"""How many times as long as the layout says a paced wait may be."""


class ForecastError(ValueError):
    """A question that has no answer; the text says why, and what would do."""


class StepPlan(msgspec.Struct, frozen=True, gc=False):
    """A step of a spur's order. ``kind`` is the thing's kind, ``foreman`` or ``work``."""

    phase: str
    step: str
    kind: str


class SpurPlan(msgspec.Struct, frozen=True):
    """A spur: who answers for it, what a crew must have to itself there, and its steps in order.

    ``claims`` are ids of switches and keys. ``answer_s`` is the range of an automatic foreman.
    """

    id: str
    name: str
    foreman: ForemanKind
    answer_s: tuple[float, float]
    claims: tuple[str, ...]
    steps: tuple[StepPlan, ...]


class StopPlan(msgspec.Struct, frozen=True, gc=False):
    """A stop of a job: ``cars`` are those to pull and to spot there."""

    spur: str
    cars: int = 0


class JobPlan(msgspec.Struct, frozen=True):
    """A job. ``train`` is how many cars a brake test is made with."""

    id: int
    name: str
    crew: str = ""
    train: int = 1
    stops: tuple[StopPlan, ...] = ()


class Past(msgspec.Struct, frozen=True):
    """A round that was worked: who worked it, how long each step took, and the waits.

    ``crew`` is empty where nobody knows, ``rounds_before`` how many that crew had worked here
    before that evening, and ``cars`` ``None`` where no job tells. ``steps`` are by
    ``phase/step``, the work without its brake tests. ``answer_s`` is the host's own time for the
    answer; ``start_s`` and ``travel_s`` are how long the crew was on its way.
    """

    session: int
    spur: str
    crew: str = ""
    job: int = 0
    rounds_before: int | None = None
    cars: int | None = None
    steps: dict[str, float] = {}
    tests: int = 0
    answer_s: float | None = None
    start_s: float | None = None
    travel_s: float | None = None


class Question(msgspec.Struct, frozen=True):
    """What is asked. ``names`` are of switches and keys, for the bottleneck.

    ``places`` are where earlier facts fell in the forecasts of their evenings, each from 0 to 1
    (see ``lessons.py``). ``scales`` are the dial's positions to compare, ``wait_scale`` the one in
    force. ``chance`` is that of finishing which the host would like to have.
    """

    spurs: tuple[SpurPlan, ...]
    names: dict[str, str]
    clock_ratio: float
    jobs: tuple[JobPlan, ...]
    crews: int
    minutes: float
    wait_scale: float = 1.0
    scales: tuple[float, ...] = ()
    past: tuple[Past, ...] = ()
    rounds_of_crews: dict[str, int] = {}
    places: tuple[float, ...] = ()
    chance: float = 0.8
    evenings: int = 2000
    seed: int = 1


class Figure(msgspec.Struct, frozen=True, gc=False):
    """A figure, and how far chance alone may have moved it: 19 times of 20 by ``error``."""

    value: float
    error: float


class Band(msgspec.Struct, frozen=True, gc=False):
    """Of 10 evenings, one ends before ``low`` and one after ``high``."""

    low: float
    middle: float
    high: float


class Ends(msgspec.Struct, frozen=True):
    """When something will end. ``job`` is 0 for the whole.

    ``curve`` are the times by which 1, 2, ... 99 of 100 evenings have it done, and ``raw`` the
    same before earlier evenings' lessons. ``chance`` is that of ending within the evening.
    """

    job: int
    name: str
    low: Figure
    middle: Figure
    high: Figure
    chance: Figure
    mean: Figure
    curve: tuple[float, ...]
    raw: tuple[float, ...]
    independent: Band
    together: Band


class Bottleneck(msgspec.Struct, frozen=True):
    """Something that crews wait for. ``waited_s`` is of all crews in one evening, on average.

    ``what`` is ``spur`` (a switch or key, by its ``id``) or ``foreman`` (the host); ``jobs`` are
    those that want it, and ``busy`` the share of the evening's work in which somebody had it.
    """

    what: Literal["spur", "foreman"]
    id: str
    name: str
    waited_s: Figure
    busy: float
    jobs: tuple[int, ...]


class Dial(msgspec.Struct, frozen=True, gc=False):
    """A position of the dial: the share of crews' time that is paced waiting, and the end."""

    scale: float
    waiting_percent: Figure
    middle_s: float
    chance: Figure


class LeftOut(msgspec.Struct, frozen=True):
    """A choice of jobs to leave out, and the chance of finishing the others.

    ``reached`` is false where no choice reaches the chance wanted.
    """

    jobs: tuple[int, ...]
    chance: Figure
    reached: bool


class Known(msgspec.Struct, frozen=True):
    """How a step's time is known: ``count`` times in the log, and whether those alone tell it."""

    spur: str
    phase: str
    step: str
    count: int
    measured: bool
    low_s: float
    likely_s: float
    high_s: float


class Unworkable(msgspec.Struct, frozen=True):
    """A job that is left out of the reckoning, and why."""

    job: int
    name: str
    why: str


class Answer(msgspec.Struct, frozen=True):
    """The forecast. ``spread`` are the shared parts of crews' times, as learnt: 0.1 is 10 %.

    ``lessons`` is how many earlier evenings have corrected it.
    """

    minutes: float
    crews: int
    wait_scale: float
    evenings: int
    seed: int
    chance_wanted: float
    whole: Ends
    jobs: tuple[Ends, ...]
    bottlenecks: tuple[Bottleneck, ...]
    dial: tuple[Dial, ...]
    leave_out: LeftOut
    known: tuple[Known, ...]
    unworkable: tuple[Unworkable, ...]
    sessions: int
    lessons: int
    evening_spread: float
    crew_spread: float

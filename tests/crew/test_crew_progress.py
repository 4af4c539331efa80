"""Where jobs stand and which round is whose: our own rules, no outside source."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from firmware_py.logbook.screen.jobs import Job, JobStop
from firmware_py.logbook.screen.ticks import Step, Tick
from web.crew.progress import (
    Claim,
    Progress,
    StopState,
    progress_of,
    rounds_of_job,
    worked_guesses,
)
from web.live.board import Board, Round, Work

DONE, CURRENT, AHEAD, LEFT = StopState.DONE, StopState.CURRENT, StopState.AHEAD, StopState.LEFT


def a_job(ident: int, *spurs: str, dropped: bool = False) -> Job:
    return Job(
        f"Job {ident}", stops=tuple(JobStop(spur) for spur in spurs), id=ident, dropped=dropped
    )


def here(job: int, stop: int, entry: int, step: Step = Step.HERE) -> Tick:
    return Tick(job, stop, step, entry, entry)


def ran(began: int, ended: int | None = None, *, worked: bool = True) -> Round:
    return Round(began, began, worked, ended, ended)


def work_of(**spurs: list[Round]) -> dict[str, Work]:
    return {
        spur: Work("idle" if all(one.ended_id for one in rounds) else "working", rounds=rounds)
        for spur, rounds in spurs.items()
    }


def states(progress: Progress) -> list[StopState]:
    return [stop.state for stop in progress.stops]


def test_a_job_begins_at_its_first_stop() -> None:
    found = progress_of([a_job(1, "kiln", "mill")], [], {})[1]
    assert states(found) == [CURRENT, AHEAD]
    assert (found.current, found.waits_for) == (0, None)
    assert not found.stops[0].here


def test_a_round_that_was_worked_and_has_ended_does_its_stop() -> None:
    job = a_job(1, "kiln", "mill")
    work = work_of(kiln=[ran(10, 20)])
    found = progress_of([job], [here(1, 0, 5)], work)[1]
    assert states(found) == [DONE, CURRENT]
    assert found.stops[0].rounds == (ran(10, 20),)


def test_a_round_without_a_train_leaves_the_crew_where_it_is() -> None:
    work = work_of(kiln=[ran(10, 20, worked=False)])
    found = progress_of([a_job(1, "kiln", "mill")], [here(1, 0, 5)], work)[1]
    assert states(found) == [CURRENT, AHEAD]
    assert found.stops[0].here
    assert found.stops[0].rounds == (ran(10, 20, worked=False),)
    again = work_of(kiln=[ran(10, 20, worked=False), ran(30, 40)])
    assert states(progress_of([a_job(1, "kiln", "mill")], [here(1, 0, 5)], again)[1])[0] is DONE


def test_a_round_that_had_ended_before_the_crew_came_is_not_its_own() -> None:
    work = work_of(kiln=[ran(10, 20)])
    found = progress_of([a_job(1, "kiln")], [here(1, 0, 20)], work)[1]
    assert states(found) == [CURRENT]
    assert found.stops[0].rounds == ()
    running = progress_of([a_job(1, "kiln")], [here(1, 0, 19)], work)[1]
    assert states(running) == [DONE], "it ended after the crew had come"


def test_gone_on_without_work_is_left_and_not_done() -> None:
    found = progress_of([a_job(1, "kiln", "mill")], [here(1, 0, 5, Step.LEFT)], {})[1]
    assert states(found) == [LEFT, CURRENT]


def test_the_later_of_two_crews_waits_and_gets_the_next_round() -> None:
    jobs = [a_job(1, "kiln"), a_job(2, "kiln")]
    ticks = [here(1, 0, 5), here(2, 0, 12)]
    found = progress_of(jobs, ticks, work_of(kiln=[ran(10)]))
    assert found[1].waits_for is None
    assert found[2].waits_for == 1
    assert not found[2].may_claim
    found = progress_of(jobs, ticks, work_of(kiln=[ran(10, 20), ran(30, 40)]))
    assert found[1].stops[0].rounds == (ran(10, 20),)
    assert found[2].stops[0].rounds == (ran(30, 40),)


def test_a_crew_that_asked_for_an_idle_spur_keeps_others_waiting() -> None:
    found = progress_of([a_job(1, "kiln"), a_job(2, "kiln")], [here(2, 0, 5)], {})
    assert found[1].waits_for == 2
    assert found[2].waits_for is None


def test_an_open_spur_of_nobodys_is_taken_to_be_the_first_jobs_whose_turn_it_is() -> None:
    jobs = [a_job(1, "mill", "kiln"), a_job(2, "kiln"), a_job(3, "kiln")]
    found = progress_of(jobs, [], work_of(kiln=[ran(10, worked=False)]))
    assert found[2].stops[0].guessed
    assert found[2].stops[0].here
    assert (found[3].waits_for, found[3].may_claim) == (2, True)
    assert found[1].waits_for is None
    overruled = progress_of(jobs, [here(3, 0, 11)], work_of(kiln=[ran(10, worked=False)]))
    assert overruled[3].waits_for is None
    assert overruled[2].waits_for == 3


def test_of_two_crews_the_guess_is_the_one_that_was_heard_of_last() -> None:
    jobs = [a_job(1, "kiln"), a_job(2, "kiln"), a_job(3, "kiln")]
    ticks = [here(2, 0, 4, Step.YARD), here(3, 0, 5, Step.YARD), here(2, 0, 3, Step.REAR)]
    found = progress_of(jobs, ticks, work_of(kiln=[ran(10, worked=False)]))
    assert found[3].stops[0].guessed
    assert found[1].waits_for == found[2].waits_for == 3


def test_a_guess_is_worth_keeping_once_a_train_is_in() -> None:
    job = a_job(1, "kiln")
    assert worked_guesses(progress_of([job], [], work_of(kiln=[ran(10, worked=False)]))) == []
    guessed = progress_of([job], [], work_of(kiln=[ran(10)]))
    assert worked_guesses(guessed) == [(Claim(1, 0), ran(10))]
    kept = [here(1, 0, 10)]
    assert states(progress_of([job], kept, work_of(kiln=[ran(10, 20)]))[1]) == [DONE]


def test_a_job_that_is_made_later_gets_no_round_that_is_over() -> None:
    found = progress_of([a_job(9, "kiln")], [], work_of(kiln=[ran(10, 20)]))
    assert states(found[9]) == [CURRENT]


def test_a_dropped_job_keeps_its_rounds_and_holds_up_nobody() -> None:
    jobs = [a_job(1, "kiln", dropped=True), a_job(2, "kiln")]
    ticks = [here(1, 0, 5), here(2, 0, 12)]
    found = progress_of(jobs, ticks, work_of(kiln=[ran(10)]))
    assert found[2].waits_for is None
    assert found[2].stops[0].running == ran(10)
    over = progress_of(jobs, ticks, work_of(kiln=[ran(10, 20)]))
    assert over[1].stops[0].rounds == (ran(10, 20),)


def test_whoever_leaves_hands_what_goes_on_to_whoever_waits() -> None:
    jobs = [a_job(1, "kiln"), a_job(2, "kiln")]
    ticks = [here(1, 0, 5), here(2, 0, 12), here(1, 0, 15, Step.LEFT)]
    found = progress_of(jobs, ticks, work_of(kiln=[ran(10)]))
    assert states(found[1]) == [LEFT]
    assert found[2].waits_for is None
    assert found[2].stops[0].running is not None


def test_rounds_of_a_job_by_stop() -> None:
    jobs = [a_job(1, "kiln", "mill", "kiln")]
    board = Board(work=work_of(kiln=[ran(10, 20), ran(50, 60)], mill=[ran(30, 40)]))
    ticks = [here(1, 0, 5), here(1, 1, 25), here(1, 2, 45)]
    assert rounds_of_job(1, jobs, ticks, board) == {
        0: (ran(10, 20),),
        1: (ran(30, 40),),
        2: (ran(50, 60),),
    }
    assert rounds_of_job(7, jobs, ticks, board) == {}


def test_ticks_for_stops_that_a_changed_job_no_longer_has_are_nothing() -> None:
    found = progress_of([a_job(1, "kiln")], [here(1, 4, 5), here(8, 0, 5)], {})
    assert states(found[1]) == [CURRENT]


SPURS = ("kiln", "mill", "dock")
jobs_drawn = st.lists(st.lists(st.sampled_from(SPURS), max_size=4), min_size=1, max_size=4)
ticks_drawn = st.lists(
    st.tuples(
        st.integers(1, 4),
        st.integers(0, 4),
        st.sampled_from([Step.HERE, Step.LEFT]),
        st.integers(0, 60),
    ),
    max_size=12,
    unique_by=lambda one: one[:3],
)


@st.composite
def work_drawn(draw: st.DrawFn) -> dict[str, Work]:
    """Rounds that follow one another at each spur; no two spurs share an entry's id."""
    found = {}
    for place, spur in enumerate(SPURS):
        ids = sorted(draw(st.sets(st.integers(0, 20), max_size=6)))
        marks = [1 + one * len(SPURS) + place for one in ids]
        pairs = [marks[at : at + 2] for at in range(0, len(marks), 2)]
        worked = draw(st.lists(st.booleans(), min_size=len(pairs), max_size=len(pairs)))
        rounds = [
            ran(pair[0], pair[1] if len(pair) > 1 else None, worked=was)
            for pair, was in zip(pairs, worked, strict=True)
        ]
        is_open = bool(rounds) and rounds[-1].ended_id is None
        found[spur] = Work("working" if is_open else "idle", rounds=rounds)
    return found


def drawn_jobs(spurs: list[list[str]]) -> list[Job]:
    return [a_job(place + 1, *stops) for place, stops in enumerate(spurs)]


def drawn_ticks(ticks: list[tuple[int, int, Step, int]]) -> list[Tick]:
    return [
        Tick(job, stop, step, entry, place) for place, (job, stop, step, entry) in enumerate(ticks)
    ]


@given(jobs_drawn, ticks_drawn, work_drawn())
def test_every_drawn_evening_is_told_without_contradiction(
    spurs: list[list[str]], ticks: list[tuple[int, int, Step, int]], work: dict[str, Work]
) -> None:
    jobs = drawn_jobs(spurs)
    found = progress_of(jobs, drawn_ticks(ticks), work)
    at_work: dict[str, int] = {}
    for job in jobs:
        progress = found[job.id]
        behind = [stop.state in {DONE, LEFT} for stop in progress.stops]
        assert progress.current == (behind.index(False) if False in behind else None)
        assert [stop.state for stop in progress.stops].count(CURRENT) == (
            progress.current is not None
        )
        assert progress.waits_for != job.id
        for stop in progress.stops:
            assert all(one in work[stop.spur].rounds for one in stop.rounds)
            if stop.state is DONE:
                assert stop.rounds[-1].worked
                assert stop.rounds[-1].ended_id is not None
        stop_now = progress.stop
        if stop_now is not None and stop_now.running is not None and progress.waits_for is None:
            assert at_work.setdefault(stop_now.spur, job.id) == job.id, "two crews at one spur"


@given(jobs_drawn, ticks_drawn, work_drawn())
def test_an_ended_round_is_one_stops_unless_its_crew_left_in_the_midst(
    spurs: list[list[str]], ticks: list[tuple[int, int, Step, int]], work: dict[str, Work]
) -> None:
    stayed = [tick for tick in drawn_ticks(ticks) if tick.step is Step.HERE]
    found = progress_of(drawn_jobs(spurs), stayed, work)
    owned = [
        (stop.spur, one.began_id)
        for progress in found.values()
        for stop in progress.stops
        for one in stop.rounds
    ]
    assert len(owned) == len(set(owned))


@given(jobs_drawn, ticks_drawn, work_drawn(), st.lists(st.sampled_from(SPURS), max_size=3))
def test_a_job_added_later_changes_nothing_that_others_have_done(
    spurs: list[list[str]],
    ticks: list[tuple[int, int, Step, int]],
    work: dict[str, Work],
    added: list[str],
) -> None:
    jobs, told = drawn_jobs(spurs), [one for one in drawn_ticks(ticks) if one.job_id <= len(spurs)]
    before = progress_of(jobs, told, work)
    after = progress_of([*jobs, a_job(99, *added)], told, work)
    assert all(after[job.id] == before[job.id] for job in jobs)


@given(jobs_drawn, ticks_drawn, work_drawn())
def test_the_order_in_which_ticks_are_read_is_nothing(
    spurs: list[list[str]], ticks: list[tuple[int, int, Step, int]], work: dict[str, Work]
) -> None:
    jobs, told = drawn_jobs(spurs), drawn_ticks(ticks)
    assert progress_of(jobs, told, work) == progress_of(jobs, told[::-1], work)

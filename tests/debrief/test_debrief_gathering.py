"""From entries to an evening: by hand, and against a plain second computation."""

from __future__ import annotations

from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from web.debrief.evening import Evening, FaultSpan, Pass, Refusal, Span, Stay, Wait, WaitFor
from web.debrief.gathering import Gathering
from web.debrief.pace import step_totals

US = 1_000_000
OUTSET = {
    "stages": {"kiln-switch": "secured"},
    "phases": {"kiln": ["idle", None]},
    "foremen": {"kiln": "not-asked"},
    "faults": [],
}


def evening(*lines: tuple[float, dict[str, Any]], ends: float, ended: bool = True) -> Evening:
    gathering = Gathering(OUTSET)
    for ident, (t, line) in enumerate(lines, start=1):
        gathering.take({"t": t, **line}, ident)
    return gathering.evening(round(ends * US), ended=ended)


def stage(word: str) -> dict[str, Any]:
    return {"what": "stage", "switch": "kiln-switch", "stage": word}


def phase(word: str, step: str | None) -> dict[str, Any]:
    return {"what": "phase", "spur": "kiln", "phase": word, "next": step}


def foreman(word: str) -> dict[str, Any]:
    return {"what": "foreman", "spur": "kiln", "is": word}


WORKED = (
    (10.0, foreman("asked")),
    (10.0, phase("opening", "foreman")),
    (25.0, foreman("held")),
    (40.0, foreman("released")),
    (40.0, phase("opening", "kiln-switch")),
    (50.0, stage("unlocked")),
    (52.0, stage("lined")),
    (52.0, phase("opening", "work")),
    (60.0, stage("in-use")),
    (60.0, phase("working", "work")),
    (61.0, {"what": "brake-test", "spur": "kiln", "is": "running", "cars": 3, "seconds": 17.5}),
    (78.5, {"what": "brake-test", "spur": "kiln", "is": "done"}),
    (80.0, {"what": "speed", "at": "approach", "mph": 9.87}),
    (90.0, stage("restored")),
    (90.0, phase("closing", "foreman")),
    (95.0, {"what": "refused", "command": "release", "spur": "kiln", "why": "nobody asked"}),
    (96.0, foreman("not-asked")),
    (96.0, phase("closing", "kiln-switch")),
    (100.0, stage("secured")),
    (100.0, phase("idle", None)),
)


def test_a_whole_round_by_hand() -> None:
    made = evening(*WORKED, ends=120)
    assert made.stages["kiln-switch"] == [
        Span("unlocked", 50 * US, 52 * US),
        Span("lined", 52 * US, 60 * US),
        Span("in-use", 60 * US, 90 * US),
        Span("restored", 90 * US, 100 * US),
    ]
    assert made.phases["kiln"] == [
        Span("opening", 10 * US, 60 * US),
        Span("working", 60 * US, 90 * US),
        Span("closing", 90 * US, 100 * US),
    ]
    assert made.waits == [
        Wait("kiln", WaitFor.FOREMAN, 10 * US, 40 * US, "released"),
        Wait("kiln", WaitFor.BRAKE_TEST, 61 * US, 78_500_000, "done"),
    ]
    assert made.stays == [
        Stay("kiln", "opening", "foreman", 10 * US, 40 * US),
        Stay("kiln", "opening", "kiln-switch", 40 * US, 52 * US),
        Stay("kiln", "opening", "work", 52 * US, 60 * US),
        Stay("kiln", "working", "work", 60 * US, 90 * US),
        Stay("kiln", "closing", "foreman", 90 * US, 96 * US),
        Stay("kiln", "closing", "kiln-switch", 96 * US, 100 * US),
    ]
    assert made.passes == [Pass(80 * US, "approach", 9.87)]
    assert made.refusals == [Refusal(95 * US, "kiln", "release", "nobody asked")]
    assert made.rounds == 1
    assert (made.length_us, made.ended) == (120 * US, True)


def test_what_still_goes_on_at_the_end_is_said_to() -> None:
    made = evening(*WORKED[:10], ends=70, ended=False)
    assert made.stages["kiln-switch"][-1] == Span("in-use", 60 * US, 70 * US, open=True)
    assert made.phases["kiln"][-1] == Span("working", 60 * US, 70 * US, open=True)
    assert made.stays[-1] == Stay("kiln", "working", "work", 60 * US, 70 * US, open=True)
    assert not made.ended
    asked = evening(*WORKED[:2], ends=70)
    assert asked.waits == [Wait("kiln", WaitFor.FOREMAN, 10 * US, 70 * US, "", open=True)]


def test_faults_last_from_their_beginning_and_settling_in_is_none() -> None:
    def fault(at: str, *, ended: bool, word: str = "lost") -> dict[str, Any]:
        return {"what": "fault", "fault": word, "at": at, "ended": ended}

    gathering = Gathering(OUTSET | {"faults": [["lost", "a.rack"], ["lost", "b.rack"]]})
    for t, line in (
        (2.0, fault("a.rack", ended=True)),
        (30.0, fault("c.hasp", ended=False, word="chattering")),
        (36.0, fault("c.hasp", ended=True, word="chattering")),
    ):
        gathering.take({"t": t, **line}, 1)
    assert gathering.evening(90 * US, ended=True).faults == [
        FaultSpan("lost", "b.rack", 0, 90 * US, open=True),
        FaultSpan("chattering", "c.hasp", 30 * US, 36 * US),
    ]


PHASES = st.sampled_from(
    [
        ("idle", None),
        ("opening", "foreman"),
        ("opening", "kiln-switch"),
        ("opening", "work"),
        ("working", "work"),
        ("closing", "foreman"),
        ("closing", "kiln-switch"),
    ]
)


@settings(max_examples=200, deadline=None)
@given(course=st.lists(st.tuples(st.integers(0, 40), PHASES), max_size=30), rest=st.integers(0, 9))
def test_stays_and_phases_agree_with_a_second_by_second_count(
    course: list[tuple[int, tuple[str, str | None]]], rest: int
) -> None:
    """Each whole second of the evening is looked at by itself, for what stood then."""
    lines, t, stands, seconds = [], 0, ("idle", None), list[tuple[str, str | None]]()
    for wait, (word, step) in course:
        seconds += [stands] * wait
        t += wait
        stands = word, step
        lines.append((float(t), phase(word, step)))
    seconds += [stands] * rest
    made = evening(*lines, ends=t + rest)
    counted: dict[tuple[str, str | None], int] = {}
    for second in seconds:
        counted[second] = counted.get(second, 0) + 1
    for key in {("opening", "foreman"), ("closing", "kiln-switch"), ("working", "work")}:
        mine = [one for one in made.stays if (one.phase, one.step) == key]
        assert sum(one.lasts_us for one in mine) == counted.get(key, 0) * US
    for word in ("opening", "working", "closing"):
        spans = [one for one in made.phases.get("kiln", ()) if one.word == word]
        whole = sum(count for (name, _), count in counted.items() if name == word)
        assert sum(one.lasts_us for one in spans) == whole * US
    assert all(one.began_us < one.ended_us for one in made.stays)
    opened = sum(
        before == "idle" and now != "idle"
        for before, now in zip(
            ["idle", *(word for _, (word, _) in course)],
            [word for _, (word, _) in course],
            strict=False,
        )
    )
    assert len(made.work["kiln"].rounds) == opened


def test_a_round_that_comes_back_to_a_step_adds_it_up_and_an_unended_one_is_left_out() -> None:
    made = evening(
        (10, phase("opening", "kiln-switch")),
        (14, phase("opening", "work")),
        (20, phase("opening", "kiln-switch")),
        (27, phase("closing", "kiln-switch")),
        (30, phase("idle", None)),
        (50, phase("opening", "kiln-switch")),
        ends=60,
    )
    assert step_totals(made) == {
        ("kiln", "opening", "kiln-switch"): [11 * US],
        ("kiln", "opening", "work"): [6 * US],
        ("kiln", "closing", "kiln-switch"): [3 * US],
    }

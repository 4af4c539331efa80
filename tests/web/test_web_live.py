"""Nothing is shown as safe unless the engine is proven to guard this very session now."""

from __future__ import annotations

import json
from collections.abc import Iterator

import pytest
from web_filled import Filler, busy_evening
from web_screen import Screen

import web.live.follow
from firmware_py.core.names import Command
from firmware_py.layout.model import Lamps, Output
from firmware_py.logbook.errors import LogbookError
from firmware_py.logbook.records import PulseRecord
from web.live.changes import difference
from web.live.clock import SessionClock
from web.live.heart import SAYS, Heart
from web.live.hub import QUEUE_LENGTH, Event, Hub
from web.live.lamps import crew_lamp, stand

ALL = Lamps(Output(None), Output(None), Output(None))


class Monotonic:
    """A clock that stands until it is moved."""

    def __init__(self) -> None:
        self.now = 1_000.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Iterator[Monotonic]:
    clock = Monotonic()
    monkeypatch.setattr(web.live.follow.time, "monotonic", clock)
    return clock


def pulse(beat: int, state: str = "guarding") -> PulseRecord:
    return PulseRecord(beat, state, 1)


def test_a_heart_is_believed_only_once_its_beat_was_seen_to_change() -> None:
    heart = Heart()
    assert heart.word(0) == "absent"
    heart.note(pulse(7), 0)
    assert heart.word(0) == "listening"
    heart.note(pulse(8), 2)
    assert heart.word(2) == "guarding"
    heart.note(pulse(8), 7.9)
    assert heart.word(7.9) == "guarding"
    assert heart.word(8) == "silent"
    heart.note(pulse(9, "starting"), 9)
    assert heart.word(9) == "starting"
    heart.note(pulse(10, "stopped"), 10)
    assert heart.word(10) == "stopped"
    heart.note(pulse(11, "dancing"), 11)
    assert heart.word(11) == "silent"
    heart.note(None, 12)
    assert heart.word(12) == "absent"


def test_every_word_but_guarding_says_to_treat_switches_as_unproven() -> None:
    others = [says for word, says in SAYS.items() if word != "guarding"]
    assert all("red" in says or "nothing is proven" in says for says in others)


@pytest.mark.parametrize(
    ("shown", "live", "colour"),
    [
        ({"green": "steady", "red": "off"}, True, "green"),
        ({"green": "steady", "red": "off"}, False, "dark"),
        ({"green": "off", "red": "off"}, True, "dark"),
        ({"green": "steady", "red": "steady"}, True, "red"),
        ({"green": "off", "red": "flashing"}, True, "red"),
        ({}, True, "dark"),
    ],
)
def test_a_stand_is_green_only_with_green_alone(
    shown: dict[str, str], live: bool, colour: str
) -> None:
    assert stand(ALL, shown, live=live)["colour"] == colour


def test_a_lamp_that_is_not_fitted_is_not_shown() -> None:
    assert stand(Lamps(), {"green": "steady"}, live=True)["colour"] == "none"
    assert crew_lamp(Lamps(), {"white": "steady"}, live=True) is None
    assert crew_lamp(ALL, {"white": "flashing"}, live=False) is None
    lit = crew_lamp(ALL, {"white": "flashing"}, live=True)
    assert lit is not None
    assert lit["shows"] == "flashing"


def assert_nothing_safe(state: dict[str, object]) -> None:
    assert state["head"]["live"] is False
    for row in state["rows"].values():
        assert row["lamp"]["colour"] in {"dark", "none"}
        assert row["white"] is None
        assert row["sure"] is False
        assert row["commands"] == []
        assert all(chip["state"] == "unknown" for chip in row["protections"])
    assert all(contact["settled"] is None for contact in state["contacts"].values())
    assert all(output["shows"] == "unknown" for output in state["outputs"].values())


def test_a_silent_engine_makes_every_lamp_dark_without_any_write(
    screen: Screen, filler: Filler, clock: Monotonic
) -> None:
    busy_evening(filler)
    assert_nothing_safe(screen.look())
    state = screen.wake(filler)
    assert state["head"]["live"] is True
    assert state["rows"]["quarry"]["lamp"]["colour"] == "green"
    clock.now += 5.9
    assert screen.look()["head"]["live"] is True
    clock.now += 0.2
    state = screen.look()
    assert state["head"]["engine"] == "silent"
    assert_nothing_safe(state)
    filler.beat()
    assert screen.look()["head"]["live"] is True


@pytest.mark.parametrize("word", ["starting", "stopped"])
def test_an_engine_that_does_not_guard_is_not_believed(
    screen: Screen, filler: Filler, word: str
) -> None:
    screen.wake(filler)
    filler.beat(word)
    state = screen.look()
    assert state["head"]["engine"] == word
    assert_nothing_safe(state)


def test_a_session_that_has_ended_is_not_live_however_the_heart_beats(
    screen: Screen, filler: Filler
) -> None:
    screen.wake(filler)
    filler.keeper.end_session(5_000_000)
    filler.beat()
    state = screen.look()
    assert state["head"]["engine"] == "stopped"
    assert_nothing_safe(state)


def test_trouble_with_the_logbook_is_told_and_makes_all_dark(
    screen: Screen, filler: Filler, monkeypatch: pytest.MonkeyPatch
) -> None:
    screen.wake(filler)

    def broken() -> bool:
        raise LogbookError("log.sqlite: its disk can't be read")

    monkeypatch.setattr(screen.reader, "changed", broken)
    state = screen.look()
    assert state["head"]["trouble"] == "log.sqlite: its disk can't be read"
    assert_nothing_safe(state)
    monkeypatch.undo()
    assert screen.look()["head"]["live"] is True


def test_a_lost_contact_is_a_fault_and_never_safe(screen: Screen, filler: Filler) -> None:
    filler.read(5, "quarry-flag.rack", None)
    filler.read(6, "rope-switch.normal", None)
    filler.wait(7)
    state = screen.wake(filler)
    chips = {chip["id"]: chip for chip in state["rows"]["quarry"]["protections"]}
    assert chips["quarry-flag"]["state"] == "unknown"
    assert state["rows"]["rope"]["sure"] is False
    assert state["contacts"]["rope-switch.normal"]["says"] == "unknown: treat as unsafe"
    assert {fault["at"] for fault in state["faults"]} == {"quarry-flag.rack", "rope-switch.normal"}


def test_a_new_session_is_taken_up_whole(screen: Screen, filler: Filler) -> None:
    busy_evening(filler)
    first = screen.wake(filler)
    assert first["open_count"] > 0
    filler.begin()
    filler.beat()
    second = screen.look()
    assert second["head"]["session"] == first["head"]["session"] + 1
    assert second["violations"] == {}
    assert second["rows"]["coal"]["stage"] == "secured"


def events_of(screen: Screen, stream: object) -> list[tuple[str, dict[str, object]]]:
    taken = screen.follower.hub.take(stream, 0)
    return [(event.kind, json.loads(event.data)) for event in taken]


def patched(state: dict[str, object], patch: dict[str, object]) -> dict[str, object]:
    """What a page does with a patch."""
    merged = dict(state)
    for section, change in patch.items():
        if section == "entries":
            continue
        before = merged.get(section)
        if isinstance(before, dict) and isinstance(change, dict):
            both = {**before, **change}
            merged[section] = {key: value for key, value in both.items() if value is not None}
        else:
            merged[section] = change
    return merged


def test_patches_come_to_the_same_as_the_whole_state(screen: Screen, filler: Filler) -> None:
    state = screen.wake(filler)
    subscribed = screen.follower.hub.subscribe()
    assert subscribed is not None
    stream, _ = subscribed
    seen = []
    for _ in range(3):
        filler.order(10 + len(seen), Command.ASK, "dairy")
        filler.wait(10 + len(seen))
        screen.look()
        busy = events_of(screen, stream)
        for kind, patch in busy:
            assert kind == "patch"
            seen += [entry["id"] for entry in patch["entries"]]
            state = patched(state, patch)
    whole = screen.state()
    assert {key: state[key] for key in whole if key not in {"clock_us", "head"}} == {
        key: whole[key] for key in whole if key not in {"clock_us", "head"}
    }
    assert seen == [entry.id for entry in screen.reader.entries(filler.session_id)]


def test_a_slow_stream_is_given_the_whole_state_instead_of_what_it_missed() -> None:
    hub = Hub(1)
    subscribed = hub.subscribe()
    assert subscribed is not None
    stream, first = subscribed
    assert first is None
    assert hub.subscribe() is None
    for number in range(QUEUE_LENGTH + 5):
        hub.publish(Event("patch", number, b"{}"), Event("state", number, b"{}"))
    assert hub.take(stream, 0) == [Event("state", QUEUE_LENGTH + 4, b"{}")]
    hub.publish(Event("patch", 99, b"{}"), Event("state", 99, b"{}"))
    assert hub.take(stream, 0) == [Event("patch", 99, b"{}")]
    hub.leave(stream)
    hub.leave(stream)
    assert hub.streams == 0
    hub.close()
    assert hub.subscribe() is None


def test_each_topic_has_its_own_state_and_streams_and_all_share_one_bound() -> None:
    hub = Hub(2)
    board, job = hub.subscribe(), hub.subscribe("job:3")
    assert board is not None
    assert job is not None
    assert hub.subscribe("job:4") is None
    assert hub.streams == 2
    assert (hub.watched(), hub.watched("job:3"), hub.watched("job:4")) == (True, True, False)
    event = Event("state", 1, b"{}")
    hub.publish(event, event, "job:3")
    assert hub.take(board[0], 0) == []
    assert hub.take(job[0], 0) == [event]
    assert (hub.state(), hub.state("job:3")) == (None, event)
    hub.leave(board[0])
    later = hub.subscribe("job:3")
    assert later is not None
    assert later[1] == event


def test_a_topic_that_has_gone_ends_its_streams_and_no_others() -> None:
    hub = Hub(2)
    board, job = hub.subscribe(), hub.subscribe("job:3")
    assert board is not None
    assert job is not None
    hub.publish(Event("state", 1, b"{}"), Event("state", 1, b"{}"), "job:3")
    hub.forget("job:3")
    hub.forget("job:4")
    assert hub.state("job:3") is None
    assert (hub.ended(board[0]), hub.ended(job[0])) == (False, True)
    hub.leave(job[0])
    assert hub.streams == 1
    hub.close()
    assert hub.ended(board[0])


def test_a_frame_is_built_once_for_all_streams() -> None:
    event = Event("patch", 7, b'{"a":1}')
    assert event.frame() == b'event: patch\nid: 7\ndata: {"a":1}\n\n'
    assert event.frame() is event.frame()


def test_a_difference_names_what_is_gone() -> None:
    old = {"rows": {"a": 1, "b": 2}, "list": [1], "same": 0}
    new = {"rows": {"b": 3, "c": 4}, "list": [2], "same": 0}
    assert difference(old, new) == {"rows": {"a": None, "b": 3, "c": 4}, "list": [2]}
    assert difference(new, new) == {}
    assert difference({"rows": {}}, {}) == {"rows": None}


def test_the_session_clock_trusts_entries_over_the_wall_clock() -> None:
    clock = SessionClock.guess(10_000_000, 500_000_000, 503_000_000, 100.0)
    assert clock.read(101.0) == 14_000_000
    stepped_back = SessionClock.guess(10_000_000, 500_000_000, 400_000_000, 100.0)
    assert stepped_back.read(100.0) == 10_000_000
    clock.heard(20_000_000, 102.0)
    assert clock.read(102.5) == 20_500_000


def test_whoever_only_watches_leaves_places_to_the_host_and_the_crews() -> None:
    hub = Hub(12)
    assert all(hub.subscribe(spared=1 / 6) for _ in range(10))
    assert hub.subscribe(spared=1 / 6) is None
    assert hub.subscribe("job:1", spared=1 / 12) is not None
    assert hub.subscribe("job:1", spared=1 / 12) is None
    assert hub.subscribe() is not None
    assert hub.subscribe() is None

"""The bench: its stream, its labels, and the hand at outputs as every page shows it."""

from __future__ import annotations

import json
from importlib.resources import files
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from flask.testing import FlaskClient
from web_filled import Filler
from web_screen import Screen

from firmware_py.book.rows import rows_of
from firmware_py.layout.model import Layout
from firmware_py.layout.reading import parse_layout
from firmware_py.layout.summary import pin_list
from firmware_py.logbook.records import StandingRecord
from web.bench.health import health_of
from web.bench.telling import AT_FIRST, BATCH, TOPIC
from web.describing import description
from web.live.hub import BOARD, QUEUE_LENGTH, Event, Stream

RED, GREEN = "quarry-switch.red", "quarry-switch.green"


@pytest.fixture
def filler(path: Path) -> Any:  # noqa: ANN401 - as the room's own
    """Between sessions, where a hand may do most."""
    filler = Filler(str(path), opened=False)
    yield filler
    filler.close()


class Watcher:
    """Someone who looks at the bench; ``look`` takes what came and gives how it stands."""

    def __init__(self, screen: Screen) -> None:
        subscribed = screen.follower.hub.subscribe(BOARD, TOPIC)
        assert subscribed is not None
        self.screen = screen
        self.stream: Stream = subscribed[0]
        self.events: list[Event] = []
        self.state: dict[str, Any] = {}

    def look(self) -> dict[str, Any]:
        self.screen.follower._bench._due = 0.0  # As if its rest were over.
        self.screen.look()
        self.events = self.bench_events()
        for event in self.events:
            data = json.loads(event.data)
            if event.kind == "bench":
                self.state = data
            else:
                for section, change in data.items():
                    self.state[section].update(change)
        return self.state

    def bench_events(self) -> list[Event]:
        """What has come, but for the board's."""
        came = self.screen.follower.hub.take(self.stream, 0.0)
        return [event for event in came if event.kind.startswith("bench")]

    def leave(self) -> None:
        self.screen.follower.hub.leave(self.stream)


def tape(filler: Filler, contact: str, *edges: tuple[float, bool | None]) -> None:
    """Raw readings, as the engine takes them down."""
    for t_ms, made in edges:
        filler.keeper.tape(round(t_ms * 1_000), contact, made)
    assert filler.keeper.flush()


def hand(filler: Filler, output: str, shows: str) -> None:
    """A hand at an output, as the engine takes it down."""
    filler.keeper.by_hand(
        output, shows, whence="10.0.0.7", since_t_us=5, until_t_us=60_000_005,
        until_wall_us=1_800_000_060_000_000,
    )  # fmt: skip
    filler.beat()


def test_the_stream_tells_all_at_first_and_then_what_has_changed(
    screen: Screen, filler: Filler
) -> None:
    tape(filler, "quarry-switch.hasp", (0, True), (1_000, False), (1_004, True), (1_009, False))
    screen.wake(filler)
    watcher = Watcher(screen)
    state = watcher.look()
    assert [event.kind for event in watcher.events] == ["bench"]
    hasp = state["contacts"]["quarry-switch.hasp"]
    assert hasp["trace"] == [[1_000_000, False], [1_004_000, True], [1_009_000, False]]
    assert (hasp["before"], hasp["bounces"], hasp["longest_us"]) == (True, 1, 9_000)
    assert state["head"]["whole"] is True
    whole = description()
    schema = {"$ref": "#/components/schemas/Bench", "components": whole["components"]}
    jsonschema.Draft202012Validator(schema).validate(state)

    tape(filler, "quarry-switch.hasp", (2_000, True))
    state = watcher.look()
    [patch] = watcher.events
    assert patch.kind == "bench-patch"
    assert set(json.loads(patch.data)) == {"contacts"}
    assert set(json.loads(patch.data)["contacts"]) == {"quarry-switch.hasp"}
    assert len(state["contacts"]["quarry-switch.hasp"]["trace"]) == 4
    watcher.look()
    assert watcher.events == [], "nothing has changed"


def test_who_looks_at_the_board_alone_hears_nothing_of_the_bench(
    screen: Screen, filler: Filler
) -> None:
    hub = screen.follower.hub
    subscribed = hub.subscribe()
    assert subscribed is not None
    screen.wake(filler)
    watcher = Watcher(screen)
    watcher.look()
    assert watcher.events
    kinds = {event.kind for event in hub.take(subscribed[0], 0.0)}
    assert kinds
    assert kinds <= {"state", "patch", "beat"}


def test_a_reader_who_fell_behind_gets_both_whole(screen: Screen, filler: Filler) -> None:
    screen.wake(filler)
    watcher = Watcher(screen)
    watcher.look()
    for number in range(QUEUE_LENGTH + 1):
        hand(filler, RED, "off" if number % 2 else "steady")
        screen.follower._bench._due = 0.0
        screen.look()
    came = screen.follower.hub.take(watcher.stream, 0.0)
    assert [event.kind for event in came] == ["state", "bench"]


def test_a_flood_of_edges_is_told_in_few_events(screen: Screen, filler: Filler) -> None:
    screen.wake(filler)
    watcher = Watcher(screen)
    watcher.look()
    edges = [(1_000 + n / 2, n % 2 == 0) for n in range(2 * BATCH + 7)]
    tape(filler, "quarry-switch.hasp", *edges)
    state = watcher.look()
    assert len(watcher.events) == 1
    assert sum(state["contacts"]["quarry-switch.hasp"]["gaps"]) == len(edges) - 1
    tape(filler, "quarry-switch.hasp", (9_000, True))
    screen.look()
    assert watcher.bench_events() == [], "it rests between two drawings"


def test_while_nobody_looks_nothing_is_read_or_kept(
    screen: Screen, filler: Filler, monkeypatch: pytest.MonkeyPatch
) -> None:
    read = []
    reader = screen.reader
    for name in ("readings", "newest_readings"):
        plain = getattr(reader, name)
        monkeypatch.setattr(
            reader, name, lambda *args, plain=plain: read.append(args) or plain(*args)
        )
    screen.wake(filler)
    tape(filler, "quarry-switch.hasp", (1_000, True))
    screen.look()
    assert read == []
    watcher = Watcher(screen)
    watcher.look()
    assert read
    watcher.leave()
    screen.look()
    assert screen.follower.hub.state(TOPIC) is None
    assert screen.follower._bench._traces is None


def test_in_a_long_session_only_the_last_readings_are_looked_through(
    screen: Screen, filler: Filler
) -> None:
    edges = [(10 + n, n % 2 == 0) for n in range(AT_FIRST + 50)]
    tape(filler, "quarry-switch.hasp", *edges)
    screen.wake(filler)
    state = Watcher(screen).look()
    assert state["head"]["whole"] is False
    assert state["head"]["since_us"] == 60_000
    assert sum(state["contacts"]["quarry-switch.hasp"]["gaps"]) == AT_FIRST - 1


def test_a_new_session_begins_with_new_traces(screen: Screen, filler: Filler) -> None:
    screen.wake(filler)
    tape(filler, "quarry-switch.hasp", (1_000, False))
    watcher = Watcher(screen)
    first = watcher.look()
    filler.begin(opened=True)
    state = watcher.look()
    assert [event.kind for event in watcher.events] == ["bench"]
    assert state["head"]["session"] != first["head"]["session"]
    assert state["contacts"]["quarry-switch.hasp"]["trace"] == []
    why = {c["command"]: c["why"] for c in state["outputs"][GREEN]["choices"]}
    assert why["off"] == ""
    assert "close the session first" in why["steady"]


def test_health_is_the_worst_that_is_so(filler: Filler) -> None:
    contact = filler.layout.contacts[0]

    def health(raw: bool | None, settled: bool | None, *faults: str, live: bool = True) -> str:
        now = StandingRecord(contact.name, raw, settled, 3, 0)
        return health_of(contact, now, faults, live=live).state

    assert health(True, True) == health(False, False) == "fine"
    assert health(True, False) == health(False, None) == "settling"
    assert health(None, None, "lost", "chattering") == health(None, True) == "lost"
    assert health(True, True, "chattering") == "chattering"
    assert health(True, True, live=False) == "unknown"
    assert health_of(contact, None, (), live=True).state == "unknown"


def listed(layout: Layout) -> set[str]:
    """What ``spurlock check --pins`` prints under its heading, without the columns' blanks."""
    return {" ".join(line.split()) for line in list(pin_list(layout))[1:]}


def test_labels_and_pins_are_word_for_word_those_of_check(screen: Screen, filler: Filler) -> None:
    state = screen.wake(filler)
    shown = [*state["contacts"].values(), *state["outputs"].values()]
    assert {f"{one['pin']} {one['label']}" for one in shown} == listed(filler.layout)
    assert len(shown) == len(listed(filler.layout))


def test_checks_labels_are_word_for_word_those_of_the_wiring_book() -> None:
    """On the demo's layout, all of whose wires have a pin."""
    text = (files("firmware_py.demo") / "layouts" / "wendlebeck.toml").read_text("utf-8")
    layout = parse_layout(text, "wendlebeck.toml")
    assert listed(layout) == {f"{row.pin} {row.label}" for row in rows_of(layout)}


def test_a_hand_is_left_for_the_engine_with_the_hosts_address(
    client: FlaskClient, screen: Screen, filler: Filler
) -> None:
    screen.wake(filler)
    answer = client.post("/api/bench/outputs", json={"output": RED, "shows": "steady"})
    assert answer.status_code == 202
    [left] = filler.inbox.new()
    assert (left.kind, left.output, left.command, left.note) == (
        "by-hand", RED, "steady", "127.0.0.1",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("body", "status", "word"),
    [
        ({"output": RED}, 400, "shows"),
        ({"output": RED, "shows": "blue"}, 400, "blue"),
        ({"output": RED, "shows": None}, 400, "shows"),
        ({"output": RED, "shows": "off", "for": 900}, 400, "for"),
        ({"output": "x" * 201, "shows": "off"}, 400, "output"),
        ({"output": "", "shows": "off"}, 400, "output"),
        ({"output": "quarry-switch.moon", "shows": "off"}, 404, "no output 'quarry-switch.moon'"),
        ({"output": "quarry-switch.hasp", "shows": "off"}, 404, "no output"),
        ({"output": "quarry-switch", "shows": "off"}, 404, "no output"),
        ({"output": GREEN, "shows": "flashing"}, 409, "can't be flashing"),
        ({"output": RED, "shows": "drawn"}, 409, "can't be drawn"),
        ({"output": RED, "shows": "back"}, 409, "no hand is at the Red lamp"),
    ],
    ids=str,
)
def test_a_hand_that_can_not_be_is_refused_in_words(
    client: FlaskClient, screen: Screen, filler: Filler, body: object, status: int, word: str
) -> None:
    screen.wake(filler)
    answer = client.post("/api/bench/outputs", json=body)
    assert answer.status_code == status
    assert word in answer.json["error"]
    assert filler.inbox.new() == []


def test_no_hand_for_a_guest_nor_for_an_engine_that_does_not_answer(
    client: FlaskClient, screen: Screen, filler: Filler
) -> None:
    screen.look()
    body = {"output": RED, "shows": "steady"}
    assert client.post("/api/bench/outputs", json=body).status_code == 409
    screen.wake(filler)
    assert screen.guest.post("/api/bench/outputs", json=body).status_code == 401
    assert filler.inbox.new() == []


def test_every_page_knows_of_a_hand_and_no_lamp_there_is_called_green(
    client: FlaskClient, screen: Screen, filler: Filler
) -> None:
    before = screen.wake(filler)
    assert before["by_hand"] == {}
    assert before["rows"]["quarry"]["lamp"]["colour"] == "green"
    hand(filler, RED, "off")
    state = screen.look()
    told = state["by_hand"][RED]
    assert (told["says"], told["whence"]) == ("off", "10.0.0.7")
    assert told["hint"] == "Don't trust the lamps there."
    lamp = state["rows"]["quarry"]["lamp"]
    assert (lamp["colour"], lamp["word"], lamp["says"]) == ("dark", "By hand", "Treat as red")
    assert "worked by hand" in state["rows"]["quarry"]["why"][0]
    assert state["outputs"][RED]["shows"] == before["outputs"][RED]["shows"], "the rules' own word"
    for page in ("/briefing", "/debrief"):
        assert told["called"] in client.get(page).get_data(as_text=True)
    filler.keeper.hand_off(RED)
    filler.beat()
    after = screen.look()
    assert after["by_hand"] == {}
    assert after["rows"]["quarry"]["lamp"] == before["rows"]["quarry"]["lamp"]
    assert told["called"] not in client.get("/briefing").get_data(as_text=True)


def test_a_hand_at_a_bolt_leaves_the_lamps_their_word(screen: Screen, filler: Filler) -> None:
    before = screen.wake(filler)
    bolts = [name for name in before["outputs"] if name.endswith((".bolt", ".power", ".lamp"))]
    hand(filler, bolts[0], "shut")
    state = screen.look()
    assert set(state["by_hand"]) == {bolts[0]}
    assert [row["lamp"] for row in state["rows"].values()] == [
        row["lamp"] for row in before["rows"].values()
    ]

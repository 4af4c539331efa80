"""Hostile payloads: whatever a box or a board sends, the others go on as they were."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import func, select

from club.box import write_layout
from club.fake_link import FakeLink
from club.truth import states
from firmware_py.club.courier import Courier
from firmware_py.club.messages import (
    Answer,
    Ask,
    Batch,
    Contact,
    Entry,
    Fetch,
    Health,
    PayloadError,
    Remark,
    Session,
    SessionSaid,
    Standing,
    Violation,
    decode,
    encode,
)
from firmware_py.club.topics import Said, Told, said, told
from firmware_py.gathering.gatherer import Gatherer
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.tables import ENTRY, REQUEST
from web.club.follow import ClubFollower
from web.club.reading import ClubReader
from web.live.hub import Hub

SHAPES = (Health, SessionSaid, Standing, Batch, Answer, Ask, Fetch)
QUICK = settings(
    max_examples=40,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
JSON = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**70), 2**70)
    | st.floats()
    | st.text(max_size=8)
    | st.sampled_from(["work", "foreman", "west", "mill", "guarding", "\0", "\ud800", "--", "{}"]),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner, max_size=3)
    ),
    max_leaves=6,
)
WEST, EAST = "a" * 32, "b" * 32


class Stage:
    """A gatherer and a follower over one database; time goes on only when told."""

    def __init__(self, folder: Path) -> None:
        self.link = FakeLink()
        self.now_s = 1000.0
        self.engine = open_engine(str(folder / "board.sqlite"))
        self.gatherer = Gatherer(
            "board",
            "Vale club",
            self.engine,
            self.link,  # type: ignore[arg-type] # it has what is used of a link
            wall_us=lambda: 1_700_000_000_000_000 + round(self.now_s * 1e6),
            now_s=lambda: self.now_s,
        )
        self.follower = ClubFollower(ClubReader(self.engine), Hub(2))
        self.layout = write_layout(folder, "west", "127.0.0.1", 1).read_text()
        self.beat = 0
        for node, incarnation in (("west", WEST), ("east", EAST)):
            self.say(node, Said.SESSION, SessionSaid(incarnation, self.session()))
        self.go_on()
        self.go_on()
        assert states(self.engine) == {"west": "guarding", "east": "guarding"}

    def session(self) -> Session:
        return Session(
            1, "West", "west.toml", self.layout, True, 1_700_000_000_000_000, None, None,
            '{"stages": {"mill-switch": "secured"}}',
            None, True,
        )  # fmt: skip

    def say(self, node: str, what: Said, message: Any) -> None:  # noqa: ANN401 - any message
        self.link.take(said(node, what), encode(message))

    def health(self, incarnation: str, **more: Any) -> Health:  # noqa: ANN401 - its fields
        about = {"wall_us": 1_700_000_000_000_000, "engine": "guarding", "session": 1}
        return Health(here=True, incarnation=incarnation, beat=self.beat, **(about | more))

    def go_on(self) -> None:
        """A second goes by, in which both boxes say that they are well."""
        self.now_s += 1.0
        self.beat += 1
        for node, incarnation in (("west", WEST), ("east", EAST)):
            standing = Standing(incarnation, 5, (Contact("mill-switch.hasp", True, True, 1, 1),))
            self.say(node, Said.STANDING, standing)
            self.say(node, Said.HEALTH, self.health(incarnation, standing=5))
        self.gatherer.turn()

    def close(self) -> None:
        self.follower.close()
        self.engine.dispose()


@pytest.fixture
def stage(own: Path) -> Iterator[Stage]:
    made = Stage(own)
    yield made
    made.close()


@given(payload=st.binary(max_size=200) | JSON.map(lambda one: json.dumps(one).encode()))
@settings(max_examples=200, deadline=None)
def test_any_payload_is_a_message_or_is_refused(payload: bytes) -> None:
    for shape in SHAPES:
        try:
            message = decode(payload, shape)
        except PayloadError:
            continue
        assert isinstance(message, shape)
        encode(message).decode("utf-8")


def mutated(message: Any) -> st.SearchStrategy[bytes]:  # noqa: ANN401 - any message
    """A good message with one of its parts replaced by something else."""
    good = json.loads(encode(message))

    def put(path_and_value: tuple[list[Any], Any]) -> bytes:
        path, value = path_and_value
        whole = json.loads(json.dumps(good))
        at = whole
        for step in path[:-1]:
            at = at[step]
        at[path[-1]] = value
        return json.dumps(whole).encode()

    return st.tuples(st.sampled_from(list(paths(good))), JSON).map(put)


def paths(value: Any, before: tuple[Any, ...] = ()) -> Iterator[list[Any]]:  # noqa: ANN401
    if before:
        yield list(before)
    inner = (
        value.items()
        if isinstance(value, dict)
        else enumerate(value)
        if isinstance(value, list)
        else ()
    )
    for key, one in inner:
        yield from paths(one, (*before, key))


def good_batch(incarnation: str, line: str) -> Batch:
    entry = Entry(1, 1, 5, 5, "stage", "mill-switch", None, line)
    violation = Violation(1, 1, 5, 5, "gapped-points", "mill-switch", "mill", (), 1, 5, None, None)
    remark = Remark(1, 1, 5, 5, "All is well.")
    return Batch(incarnation, 0, 1, 0, 1, (entry,), (remark,), (), (violation,))


LINE = '{"t": 0.1, "what": "stage", "switch": "mill-switch", "stage": "unlocked"}'
GOOD = {
    Said.HEALTH: Health(True, EAST, 5, "guarding", 9, 1, 0, 0, 5),
    Said.STANDING: Standing(EAST, 6, (Contact("mill-switch.hasp", True, True, 1, 1),)),
    Said.LOG: good_batch(EAST, LINE),
    Said.ANSWER: Answer("x", True),
}


@pytest.mark.parametrize("what", [*GOOD, Said.SESSION], ids=str)
def test_what_one_box_sends_leaves_the_others_and_the_board_as_they_were(
    own: Path, what: Said
) -> None:
    stage = Stage(own)
    good = GOOD.get(what) or SessionSaid(EAST, stage.session())

    @QUICK
    @given(payloads=st.lists(mutated(good) | st.binary(max_size=60), min_size=1, max_size=3))
    def sent(payloads: list[bytes]) -> None:
        for payload in payloads:
            stage.link.take(said("east", what), payload)
        stage.gatherer.turn()
        assert stage.gatherer.trouble is None
        stage.go_on()
        stage.gatherer.turn()
        assert states(stage.engine)["west"] == "guarding"
        stage.follower.look()
        state = stage.follower.hub.state()
        assert state is not None
        head = json.loads(state.data)["head"]
        assert head["trouble"] == ""
        assert "West" not in head.get("unheard", [])

    stage.follower.look()
    sent()
    stage.close()


WHAT = ("stage", "phase", "output", "fault", "speed", "violation", "foreman", "refused", "other")
KEYS = ("switch", "spur", "stage", "phase", "next", "of", "output", "shows", "fault", "at", "is")
KEYS += ("ended", "mph", "number", "rule", "missing", "cars", "seconds", "command", "why")
LINES = st.fixed_dictionaries(
    {"t": JSON, "what": st.sampled_from(WHAT)}, optional=dict.fromkeys(KEYS, JSON)
)


@QUICK
@given(line=LINES)
def test_a_line_that_cant_be_read_is_not_let_in(stage: Stage, line: dict[str, Any]) -> None:
    batch = good_batch(EAST, json.dumps(line))
    entry = Entry(1, 1, 5, 5, line["what"], None, None, json.dumps(line))
    stage.link.take(said("east", Said.LOG), json.dumps(json.loads(encode(batch)) | {
        "entries": [json.loads(encode(entry))]}).encode())  # fmt: skip
    stage.gatherer.turn()
    assert stage.gatherer.trouble is None
    stage.follower.look()
    state = stage.follower.hub.state()
    assert state is not None
    assert json.loads(state.data)["head"]["trouble"] == ""


def test_a_box_that_sends_nonsense_is_not_shown_as_safe_until_it_sends_sense(stage: Stage) -> None:
    bad = good_batch(EAST, '{"t": 0.1, "what": "stage", "switch": 7, "stage": "unlocked"}')
    stage.say("east", Said.LOG, bad)
    stage.gatherer.turn()
    assert states(stage.engine) == {"west": "guarding", "east": "unreadable"}
    stage.say("east", Said.LOG, good_batch(EAST, LINE))
    stage.gatherer.turn()
    with stage.engine.connect() as connection:
        assert connection.scalar(select(func.count()).select_from(ENTRY)) == 1
    assert states(stage.engine)["east"] != "unreadable"


def test_another_boxs_incarnation_is_not_taken(stage: Stage) -> None:
    stage.say("east", Said.HEALTH, stage.health(WEST))
    stage.gatherer.turn()  # It is undone, and the next one goes without.
    stage.gatherer.turn()
    assert states(stage.engine) == {"west": "guarding", "east": "unreadable"}


@given(
    payloads=st.lists(
        mutated(Ask("x", "board", "order", "release", spur="mill"))
        | mutated(Fetch("board", WEST, 0, 0))
        | st.binary(max_size=60),
        max_size=4,
    )
)
@QUICK
def test_whatever_is_told_to_a_box_its_courier_goes_on(memory: Path, payloads: list[bytes]) -> None:
    folder = Path(tempfile.mkdtemp(dir=memory))
    engine = open_engine(str(folder / "box.sqlite"))
    link = FakeLink()
    courier = Courier("west", engine, link, wall_us=lambda: 5)  # type: ignore[arg-type] # as above
    for payload in payloads:
        for what in Told:
            link.take(told("west", what), payload)
    courier.turn()
    assert courier.trouble is None
    with engine.connect() as connection:
        left = connection.execute(select(REQUEST.c.kind, REQUEST.c.command)).all()
    assert len(left) <= len(payloads)
    courier.close()
    engine.dispose()

"""Who may do what at a real Mosquitto with the access list and the settings that are shipped."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import paho.mqtt.client as mqtt
import pytest
from paho.mqtt.enums import CallbackAPIVersion
from paho.mqtt.reasoncodes import ReasonCode
from sqlalchemy import func, select

from club.board_host import BoardHost
from club.box import Box, until
from club.certificates import authority
from club.machines import broker_in, password_of
from club.truth import states
from firmware_py.club.credentials import Broker
from firmware_py.club.link import Link
from firmware_py.club.messages import Ask, Health, encode
from firmware_py.club.topics import EVERYTHING_SAID, Said, Told, said, told
from firmware_py.logbook.tables import NODE, REQUEST
from firmware_py.service.trial.mosquitto import Mosquitto

NOT_AUTHORIZED = 135
"""MQTT 5.0 (OASIS standard), section 2.4: reason code 0x87, Not authorized."""


class Guest:
    """Any MQTT client; it keeps what it hears and what the broker answers."""

    def __init__(
        self,
        broker: Mosquitto,
        user: str | None,
        password: str | None,
        client_id: str = "",
        will: tuple[str, bytes] | None = None,
    ) -> None:
        self.heard: list[str] = []
        self.answers: list[ReasonCode] = []
        self.code: ReasonCode | None = None
        self._told = threading.Event()
        self._client = mqtt.Client(
            CallbackAPIVersion.VERSION2, client_id=client_id, protocol=mqtt.MQTTv5
        )
        if user is not None:
            self._client.username_pw_set(user, password)
        if will is not None:
            self._client.will_set(*will, qos=1, retain=True)
        self._client.on_connect = self._connected
        self._client.on_message = lambda _c, _d, message: self.heard.append(message.topic)
        self._client.on_publish = lambda _c, _d, _mid, code, _p: self._answered(code)
        self._client.on_subscribe = lambda _c, _d, _mid, codes, _p: self._answered(codes[0])
        self._client.connect(broker.host, broker.port)
        self._client.loop_start()
        until(lambda: self.code is not None)

    def publish(self, topic: str, payload: bytes) -> int:
        self._told.clear()
        self._client.publish(topic, payload, qos=1, retain=True)
        assert self._told.wait(60)
        return int(self.answers[-1].value)

    def subscribe(self, topic: str) -> int:
        self._told.clear()
        self._client.subscribe(topic, qos=1)
        assert self._told.wait(60)
        return int(self.answers[-1].value)

    def cut(self) -> None:
        """Go without a farewell, so that a will would be told."""
        raw: Any = self._client.socket()
        self._client.loop_stop()
        raw.close()

    def close(self) -> None:
        self._client.disconnect()
        self._client.loop_stop()

    def _connected(self, _c: object, _d: object, _f: object, code: ReasonCode, _p: object) -> None:
        self.code = code

    def _answered(self, code: ReasonCode) -> None:
        self.answers.append(code)
        self._told.set()


@pytest.fixture(scope="module")
def broker(memory: Path) -> Iterator[Mosquitto]:
    made = broker_in(memory / "broker")
    made.start()
    yield made
    made.stop()


@pytest.fixture(scope="module")
def west(memory: Path, broker: Mosquitto) -> Iterator[Box]:
    made = Box(memory / "west", "west", broker)
    made.start()
    yield made
    made.close()


@pytest.fixture(scope="module")
def board(memory: Path, broker: Mosquitto, west: Box) -> Iterator[BoardHost]:
    made = BoardHost(str(memory / "board.sqlite"), broker)
    made.start()
    until(lambda: states(made.engine).get("west") == "guarding")
    yield made
    made.close()


def requests_at(box: Box) -> int:
    with box.engine.connect() as connection:
        return connection.scalar(select(func.count()).select_from(REQUEST)) or 0


def bad_health() -> bytes:
    return encode(Health(here=False, incarnation="0" * 32))


@pytest.mark.parametrize(
    ("user", "password"), [(None, None), ("west", None), ("west", "guessed"), ("nobody", "x")]
)
def test_a_stranger_is_not_let_in(
    broker: Mosquitto, user: str | None, password: str | None
) -> None:
    guest = Guest(broker, user, password)
    assert guest.code is not None
    assert guest.code.is_failure
    guest.close()


def test_a_boxs_credentials_cant_speak_for_another(
    broker: Mosquitto, west: Box, board: BoardHost
) -> None:
    east = Guest(broker, "east", password_of("east"))
    for what in Said:
        assert east.publish(said("west", what), bad_health()) == NOT_AUTHORIZED
        assert east.publish(said("west", what, "board"), bad_health()) == NOT_AUTHORIZED
    ask = encode(Ask("x", "east", "order", "release", spur="mill"))
    before = requests_at(west)
    for what in Told:
        assert east.publish(told("west", what), ask) == NOT_AUTHORIZED
    east.close()
    assert states(board.engine)["west"] == "guarding"
    assert requests_at(west) == before


def test_a_box_hears_only_what_is_told_to_it(
    broker: Mosquitto, west: Box, board: BoardHost
) -> None:
    assert states(board.engine)["west"] == "guarding"
    east = Guest(broker, "east", password_of("east"))
    for topic in (EVERYTHING_SAID, "#", "spurlock/v1/to/west/#", "spurlock/v1/from/west/health"):
        east.subscribe(topic)
    west.plant.hand("mill-switch.hasp", False)
    until(lambda: board.entries("west"))
    time.sleep(1.5)  # A box's health comes every second.
    assert east.heard == []
    east.close()


def test_a_box_cant_cut_another_off_by_taking_its_client_id_or_by_its_own_will(
    broker: Mosquitto, west: Box, board: BoardHost
) -> None:
    del west
    east = Guest(broker, "east", password_of("east"), client_id="west")
    assert states(board.engine)["west"] == "guarding"
    east.close()
    will = (said("west", Said.HEALTH), bad_health())
    other = Guest(broker, "east", password_of("east"), will=will)
    if other.code is not None and not other.code.is_failure:
        other.cut()
    time.sleep(1.0)
    assert states(board.engine)["west"] == "guarding"


def test_a_boards_word_reaches_a_box_and_a_box_without_a_name_of_ours_is_not_taken_up(
    broker: Mosquitto, west: Box, board: BoardHost
) -> None:
    second = Guest(broker, "board-2", password_of("board-2"))
    before = requests_at(west)
    ask = encode(Ask("one", "board-2", "order", "ask", spur="mill"))
    assert second.publish(told("west", Told.ASK), ask) == 0
    until(lambda: requests_at(west) == before + 1)
    assert second.publish(told("west", Told.ASK), ask) == 0  # The same once more.
    assert second.publish(said("board-2", Said.HEALTH), bad_health()) == 0
    until(lambda: "board-2" in states(board.engine))
    assert requests_at(west) == before + 1
    with board.engine.connect() as connection:
        names = set(connection.scalars(select(NODE.c.name)))
    assert names == {"west", "board-2"}
    second.close()


def test_tls_is_spoken_and_a_broker_of_another_authority_is_not_believed(own: Path) -> None:
    for name in ("club", "other"):
        authority(own, name)
    words = {"west": password_of("west")}
    certificates = (own / "club-broker.pem", own / "club-broker.key")
    made = Mosquitto(own / "broker", words, certificates=certificates)
    made.start()
    try:
        for name, believed in (("club", True), ("other", False)):
            ca = own / f"{name}.pem"
            broker = Broker("127.0.0.1", made.port, "west", password_of("west"), True, ca)
            link = Link(broker, ["spurlock/v1/to/west/+"])
            link.start()
            if believed:
                until(lambda link=link: link.ready)
            else:
                until(lambda link=link: "certificate" in (link.trouble or ""))
                assert not link.ready
            link.stop()
    finally:
        made.stop()

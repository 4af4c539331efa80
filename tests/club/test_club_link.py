"""What a link makes of the ways in which a broker ends it; no broker is needed for that."""

from __future__ import annotations

import logging
from typing import Any

import pytest
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.reasoncodes import ReasonCode

from firmware_py.club.credentials import Broker
from firmware_py.club.link import Link
from firmware_py.club.short_lives import SHORT_LIVES, SHORT_S, SHORT_WITHIN_S

TAKEN = ReasonCode(PacketTypes.DISCONNECT, "Session taken over")
LOST = ReasonCode(PacketTypes.DISCONNECT, "Unspecified error")


class Ended:
    """A link whose connections begin and end as a test says, by a clock of its own."""

    def __init__(self) -> None:
        self.now_s = 1_000.0
        broker = Broker("127.0.0.1", 1, "west", "x", tls=False)
        self.link: Any = Link(broker, [], now_s=lambda: self.now_s)
        self.link._started = True

    def lives(self, seconds: float, code: ReasonCode) -> None:
        self.link._subscribed(None, None, 1, [], None)
        self.now_s += seconds
        self.link._disconnected(None, None, None, code, None)


def test_a_broker_that_says_so_is_believed_at_once(
    caplog: pytest.LogCaptureFixture,
) -> None:
    caplog.set_level(logging.WARNING, "firmware_py.club.link")
    one = Ended()
    for _ in range(20):
        one.lives(1.0, TAKEN)
    assert one.link.taken_s == one.now_s
    assert "a second one seems to log in as west" in one.link.trouble
    assert caplog.text.count("session taken over") == 1  # Once a minute will do.


def test_a_broker_that_only_hangs_up_is_understood_after_a_few_times() -> None:
    one = Ended()
    for time in range(SHORT_LIVES):
        assert one.link.taken_s is None, time
        one.lives(SHORT_S / 2, LOST)
    assert one.link.taken_s == one.now_s


@pytest.mark.parametrize("lived_s", [SHORT_S, SHORT_WITHIN_S])
def test_a_network_that_fails_is_no_second_box(lived_s: float) -> None:
    one = Ended()
    for _ in range(10):
        one.lives(lived_s, LOST)
    assert one.link.taken_s is None
    one.link._ready = False
    for _ in range(10):  # It never came to be connected.
        one.link._disconnected(None, None, None, LOST, None)
    assert one.link.taken_s is None

"""The connection to the broker, kept up by paho-mqtt in a thread of its own.

Whatever comes is put on a queue and nothing else is done there; whoever owns the link takes it
off. What can't be sent now is refused at once rather than kept: the logbook is what keeps it.
"""

from __future__ import annotations

import logging
import queue
import socket
import ssl
import threading
import time
from collections.abc import Callable, Sequence
from typing import NamedTuple

import paho.mqtt.client as mqtt
from paho.mqtt.enums import CallbackAPIVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode
from paho.mqtt.subscribeoptions import SubscribeOptions

from firmware_py.club.credentials import Broker, ClubError
from firmware_py.club.short_lives import ShortLives

log = logging.getLogger(__name__)

KEEP_ALIVE_S = 4
"""The broker gives a box up after one and a half times this, and tells its last will."""
UNACKNOWLEDGED_MS = 3_000
"""A connection whose bytes nobody acknowledges for so long is given up (Linux)."""
CONNECT_WITHIN_S = 2.0
AGAIN_AFTER_S = (0.25, 1.0)
MOST_WAITING = 20_000
IN_FLIGHT = 200
QOS = 1
TAKEN_OVER = 0x8E
"""MQTT 5.0 (OASIS standard), section 2.4: Session taken over. Not every broker says it."""
TELL_AGAIN_S = 60.0


class Came(NamedTuple):
    """A message that came; ``retained`` says that the broker had kept it."""

    topic: str
    payload: bytes
    retained: bool


class Will(NamedTuple):
    """What the broker says, retained, when this end has gone without a farewell."""

    topic: str
    payload: bytes


class Link:
    """One client of the broker. ``connects`` grows with each time that it is connected anew."""

    def __init__(
        self,
        broker: Broker,
        topics: Sequence[str],
        will: Will | None = None,
        *,
        now_s: Callable[[], float] = time.monotonic,
    ) -> None:
        self.came: queue.Queue[Came] = queue.Queue(MOST_WAITING)
        self.connects = 0
        self.trouble: str | None = "not connected yet"
        self.lost = 0
        self.taken_s: float | None = None
        """When the broker last gave this connection to another of the same name (monotonic)."""
        self._taken_told_s = float("-inf")
        self._lives = ShortLives()
        self.news = threading.Event()
        self._broker = broker
        self._now_s = now_s
        self._topics = list(topics)
        self._ready = self._started = False
        self._client = client = mqtt.Client(
            CallbackAPIVersion.VERSION2,
            client_id=broker.user,
            protocol=mqtt.MQTTv5,
        )
        client.username_pw_set(broker.user, broker.password)
        client.connect_timeout = CONNECT_WITHIN_S
        client.reconnect_delay_set(*AGAIN_AFTER_S)  # type: ignore[arg-type] # seconds, any number
        client.max_inflight_messages_set(IN_FLIGHT)
        client.max_queued_messages_set(4 * IN_FLIGHT)
        if will is not None:
            client.will_set(will.topic, will.payload, qos=QOS, retain=True)
        if broker.tls:
            client.tls_set_context(tls_context(broker))
        client.on_connect = self._connected
        client.on_disconnect = self._disconnected
        client.on_connect_fail = self._failed
        client.on_message = self._message
        client.on_socket_open = _impatient

    def start(self) -> None:
        """Connect, and go on trying for as long as it takes; returns at once."""
        self._client.connect_async(
            self._broker.host, self._broker.port, keepalive=KEEP_ALIVE_S, clean_start=True
        )
        self._client.loop_start()
        self._started = True

    def stop(self) -> None:
        """Say farewell, which the broker tells no will for, and end the thread."""
        self._started = False
        self._client.disconnect()
        self._client.loop_stop()

    @property
    def ready(self) -> bool:
        """Whether it is connected and what it asked to hear is granted."""
        self._mind_thread()
        return self._ready and self._client.is_connected()

    def send(
        self, topic: str, payload: bytes, *, retain: bool = False, lasts_s: int | None = None
    ) -> bool:
        """Send, at least once; false where that can't be now. ``lasts_s`` is how long it holds."""
        if not self.ready:
            return False
        properties = None
        if lasts_s is not None:
            properties = Properties(PacketTypes.PUBLISH)  # type: ignore[no-untyped-call]
            properties.MessageExpiryInterval = lasts_s
        sent = self._client.publish(topic, payload, QOS, retain, properties)
        return sent.rc == mqtt.MQTT_ERR_SUCCESS

    def sent_all(self, timeout_s: float) -> bool:
        """Wait until the broker has acknowledged all, for a farewell; false if it takes longer."""
        waited = threading.Event()
        step_s = 0.02
        for _ in range(round(timeout_s / step_s)):
            if not self._client.want_write() and not self._client._out_messages:
                return True
            waited.wait(step_s)
        return False

    def _mind_thread(self) -> None:
        """Start paho's thread again, should trouble of its own have ended it."""
        thread = self._client._thread
        if self._started and (thread is None or not thread.is_alive()):
            log.warning("the connection's thread has ended; it starts again")
            self._ready = False
            self._client.loop_stop()
            self._client.loop_start()

    def _connected(
        self,
        client: mqtt.Client,
        _data: object,
        _flags: object,
        code: ReasonCode,
        _more: object,
    ) -> None:
        if code.is_failure:
            self.trouble = f"the broker refuses {self._broker.user}: {code}"
            return
        client.on_subscribe = self._subscribed
        client.subscribe([(topic, SubscribeOptions(qos=QOS)) for topic in self._topics])

    def _subscribed(
        self,
        _client: mqtt.Client,
        _data: object,
        _mid: int,
        codes: Sequence[ReasonCode],
        _more: object,
    ) -> None:
        refused = [str(code) for code in codes if code.is_failure]
        if refused:
            self.trouble = f"the broker does not let {self._broker.user} listen: {refused[0]}"
            return
        self.trouble = None
        self._ready = True
        self._lives.began(self._now_s())
        self.connects += 1
        self.news.set()

    def _disconnected(
        self,
        _client: mqtt.Client,
        _data: object,
        _flags: object,
        code: ReasonCode,
        _more: object,
    ) -> None:
        was_ready, self._ready = self._ready, False
        ours = was_ready and self._started
        if code.value == TAKEN_OVER or (ours and self._lives.ended(self._now_s())):
            self._taken_over()
        elif self.trouble is None:
            self.trouble = f"the connection was lost: {code}"
        self.news.set()

    def _taken_over(self) -> None:
        self.taken_s = now_s = self._now_s()
        user = self._broker.user
        self.trouble = f"session taken over: a second one seems to log in as {user}"
        if now_s - self._taken_told_s >= TELL_AGAIN_S:  # Two that fight do so once a second.
            self._taken_told_s = now_s
            right = "switch one off, or give it a [node] name and a password of its own"
            log.warning("%s; %s", self.trouble, right)

    def _failed(self, _client: mqtt.Client, _data: object) -> None:
        self._ready = False
        doubt = ", or its certificate is not believed" if self._broker.tls else ""
        self.trouble = f"{self._broker.host}:{self._broker.port} can't be reached{doubt}"

    def _message(self, _client: mqtt.Client, _data: object, message: mqtt.MQTTMessage) -> None:
        try:
            self.came.put_nowait(Came(message.topic, bytes(message.payload), message.retain))
        except (queue.Full, UnicodeDecodeError):
            self.lost += 1  # Whoever lacks it asks for it again.
        self.news.set()


def _impatient(_client: mqtt.Client, _data: object, opened: object) -> None:
    raw = opened if isinstance(opened, socket.socket) else None
    user_timeout = getattr(socket, "TCP_USER_TIMEOUT", None)
    if raw is not None:
        raw.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        if user_timeout is not None:
            raw.setsockopt(socket.IPPROTO_TCP, user_timeout, UNACKNOWLEDGED_MS)


def tls_context(broker: Broker) -> ssl.SSLContext:
    """Whom to believe that he is the broker. Raises :class:`ClubError`."""
    try:
        context = ssl.create_default_context(cafile=str(broker.ca) if broker.ca else None)
    except OSError as trouble:
        raise ClubError(
            f"{broker.ca}: the authority's certificate can't be read ({trouble}); "
            "give the PEM file of whoever signed the broker's"
        ) from None
    # From Python 3.13 on, an authority must say what its key is for, which one that was made by
    # mosquitto-tls(7) does not. Signature, name and dates are looked at all the same.
    context.verify_flags &= ~ssl.VERIFY_X509_STRICT
    return context

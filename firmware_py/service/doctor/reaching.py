"""Whether a broker can be reached, is believed and takes the password: tried, and told in words."""

from __future__ import annotations

import socket
import ssl
import threading
import time
from collections.abc import Callable
from datetime import UTC, datetime
from typing import NamedTuple

import paho.mqtt.client as mqtt
from paho.mqtt.enums import CallbackAPIVersion
from paho.mqtt.reasoncodes import ReasonCode

from firmware_py.club.credentials import Broker, ClubError
from firmware_py.club.link import tls_context

ANSWERS_WITHIN_S = 5.0
ALL_WITHIN_S = 15.0
"""A name that nobody knows can keep the resolver waiting for longer than a connection."""
REFUSED = (0x86, 0x87)
"""MQTT 5.0 (OASIS standard), section 2.4: Bad User Name or Password, and Not authorized."""
_PORTS = "8883 is usual for TLS, and 1883 with tls = false"
_SAME_NETWORK = "see that it is switched on, and on the same network as this machine"
_EXPIRED, _TOO_EARLY, _OTHER_NAME, _OTHER_ADDRESS = 10, 9, 62, 64
_UNKNOWN_SIGNER = (18, 19, 20, 21)
"""X509_V_ERR_...: OpenSSL's x509_vfy.h, from its manual X509_STORE_CTX_get_error(3)."""


class Unreached(NamedTuple):
    """What is wrong, and what would be right."""

    says: str
    do: str


class Reached(NamedTuple):
    """A broker that is well; ``expires`` is when its certificate does, where it has one."""

    expires: datetime | None


def reach(broker: Broker, *, log_in: bool, within_s: float = ALL_WITHIN_S) -> Reached | Unreached:
    """Connect, and log in if that is asked for; nothing is said or heard there.

    Whoever logs in by a name cuts off who has it: only ask for it where nobody of ours does.
    """
    found: list[Reached | Unreached] = []
    trying = threading.Thread(
        target=lambda: found.append(_reach(broker, log_in=log_in)), daemon=True
    )
    trying.start()
    trying.join(within_s)
    return found[0] if found else _silent(broker)


def _reach(broker: Broker, *, log_in: bool) -> Reached | Unreached:
    try:
        expires = _certificate(broker)
        refused = _log_in(broker) if log_in else None
    except (OSError, ClubError) as error:
        return _unreached(broker, error)
    return refused or Reached(expires)


def _unreached(  # noqa: PLR0911 - one for each kind
    broker: Broker, error: Exception
) -> Unreached:
    where = f"{broker.host}:{broker.port}"
    match error:
        case ClubError():
            says, _, do = str(error).partition("; ")
            return Unreached(says, do)
        case ssl.SSLCertVerificationError():
            return _disbelieved(broker, error)
        case ssl.SSLError() | ConnectionResetError() if broker.tls:
            return Unreached(f"no TLS is spoken at {where}", f"correct the port: {_PORTS}")
        case socket.gaierror():
            do = "write its address instead, or see that this network knows the name"
            return Unreached(f"the name {broker.host} leads nowhere", do)
        case ConnectionRefusedError():
            do = f"start Mosquitto there, or correct the port: {_PORTS}"
            return Unreached(f"nothing listens at {where}", do)
        case ConnectionResetError():
            return _hangs_up(broker)
        case TimeoutError():
            return _silent(broker)
    why = getattr(error, "strerror", None) or error
    return Unreached(f"{where} can't be reached: {why}", _SAME_NETWORK)


def _hangs_up(broker: Broker) -> Unreached:
    do = f"see what its log says; and correct the port: {_PORTS}"
    return Unreached(f"{broker.host}:{broker.port} hangs up, or does not speak MQTT 5", do)


def _silent(broker: Broker) -> Unreached:
    return Unreached(f"{broker.host}:{broker.port} does not answer", _SAME_NETWORK)


def _certificate(broker: Broker) -> datetime | None:
    """Connect, and take its certificate if it has one; when that expires."""
    context = tls_context(broker) if broker.tls else None
    at = broker.host, broker.port
    with socket.create_connection(at, timeout=ANSWERS_WITHIN_S) as plain:
        if context is None:
            return None
        with context.wrap_socket(plain, server_hostname=broker.host) as spoken:
            shown = spoken.getpeercert() or {}
    until = str(shown.get("notAfter", ""))
    return datetime.fromtimestamp(ssl.cert_time_to_seconds(until), UTC) if until else None


def _disbelieved(broker: Broker, error: ssl.SSLCertVerificationError) -> Unreached:
    whose = f"the certificate of {broker.host}:{broker.port}"
    clock = f"this machine's clock says {datetime.now(UTC):%Y-%m-%d}"
    code = error.verify_code
    if code == _EXPIRED:
        return Unreached(f"{whose} has run out ({clock})", "have a new one made, at the broker")
    if code == _TOO_EARLY:
        return Unreached(f"{whose} is not valid yet ({clock})", "set the clock")
    if code in (_OTHER_NAME, _OTHER_ADDRESS):
        do = "call the broker what its certificate calls it, or have one made for this name"
        return Unreached(f"{whose} is for another name", do)
    if code in _UNKNOWN_SIGNER:
        if broker.ca is None:
            do = 'write ca = "club.pem": the certificate of whoever signed it'
            return Unreached(f"{whose} was signed by nobody whom this machine knows", do)
        do = f"put the certificate of whoever signed it into {broker.ca}"
        return Unreached(f"{whose} was not signed by whom {broker.ca} names", do)
    return Unreached(f"{whose} is not believed: {error.verify_message}", "have a new one made")


def _log_in(broker: Broker) -> Unreached | None:
    """Log in and go again; what is wrong if that is refused."""
    codes: list[ReasonCode] = []
    client = mqtt.Client(CallbackAPIVersion.VERSION2, client_id=broker.user, protocol=mqtt.MQTTv5)
    client.username_pw_set(broker.user, broker.password)
    client.connect_timeout = ANSWERS_WITHIN_S
    if broker.tls:
        client.tls_set_context(tls_context(broker))
    client.on_connect = lambda _client, _data, _flags, code, _more: codes.append(code)
    client.connect(broker.host, broker.port, clean_start=True)
    _loop(client, lambda: bool(codes))
    client.disconnect()
    where = f"{broker.host}:{broker.port}"
    if not codes:
        return _hangs_up(broker)
    code = codes[0]
    if code.value in REFUSED:
        do = (
            "give it the same one on both sides: sudo mosquitto_passwd PASSWORD-FILE "
            f"{broker.user}, then the credentials here"
        )
        return Unreached(f"{where} does not take the password of {broker.user}", do)
    if code.is_failure:
        return Unreached(f"{where} refuses {broker.user}: {code}", "see what its log says")
    return None


def _loop(client: mqtt.Client, done: Callable[[], bool]) -> None:
    until_s = time.monotonic() + ANSWERS_WITHIN_S
    while not done() and time.monotonic() < until_s:
        if client.loop(0.1) != mqtt.MQTT_ERR_SUCCESS:
            return

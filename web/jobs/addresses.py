"""The address that a phone is to reach this screen at."""

from __future__ import annotations

import ipaddress
import re
import socket
from urllib.parse import urlsplit

from web.access.guards import knows_host

LONGEST = 200
_SHAPE = re.compile(r"(https?)://(\[[0-9a-f:.]+\]|[a-z0-9.-]+)(?::([0-9]{1,5}))?/?", re.IGNORECASE)


class AddressError(ValueError):
    """An address that can't be kept; the text says what would do."""


def tidy_address(text: str, own: str) -> str:
    """An address as the host writes it, such as ``192.168.1.20``, made whole.

    ``own`` is the address that this request came to, whose port is taken where none is written.
    An empty text stays empty: the address of each request is used then. Raises
    :class:`AddressError`.
    """
    text = text.strip()
    if not text:
        return ""
    port = urlsplit(own).port
    example = example_address(own)
    whole = text if "://" in text else f"http://{text}"
    found = _SHAPE.fullmatch(whole)
    if found is None or len(text) > LONGEST or int(found[3] or 1) not in range(1, 65_536):
        raise AddressError(f"an address looks like {example}, with nothing after it")
    scheme, name, given = found.groups()
    if not knows_host(name):
        raise AddressError(
            f"the screen does not answer to the name {name}; write this machine's own name or "
            f"address, such as {example}"
        )
    if given is None and "://" not in text:
        given = str(port) if port else None
    return f"{scheme}://{name}:{given}".lower() if given else f"{scheme}://{name}".lower()


def example_address(own: str) -> str:
    """An address of this machine that phones at home can often reach."""
    port = urlsplit(own).port
    name = socket.gethostname().lower().partition(".")[0]
    return f"http://{name}.local:{port}" if port else f"http://{name}.local"


def is_loopback(address: str) -> bool:
    """Whether only this machine itself can reach an address."""
    name = urlsplit(address).hostname or ""
    try:
        found = ipaddress.ip_address(name)
    except ValueError:
        return name == "localhost" or name.endswith(".localhost")
    return found.is_loopback or found.is_unspecified

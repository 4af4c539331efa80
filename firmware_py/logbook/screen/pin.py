"""The host's PIN. What is kept can't be turned back into it: scrypt (RFC 7914) with a salt."""

from __future__ import annotations

import hashlib
import hmac
import secrets
import string
import threading

from sqlalchemy import Engine

from firmware_py.logbook.screen.settings import change, setting
from firmware_py.logbook.screen.signins import sign_out

NAME = "pin"
SHORTEST, LONGEST = 4, 64
_N, _R, _P = 2**14, 8, 1
_one_at_a_time = threading.Lock()  # Each takes 16 MiB, and whoever knocks may knock often.


class PinError(ValueError):
    """A PIN that can't be set; the text says what would do."""


def set_pin(engine: Engine, pin: str) -> None:
    """Set the PIN and sign every browser out.

    Raises :class:`PinError` for one that is too short, too long, or one character throughout,
    and :class:`LogbookError` if it can't be kept.
    """
    if not SHORTEST <= len(pin) <= LONGEST:
        raise PinError(f"a PIN has {SHORTEST} to {LONGEST} characters; this one has {len(pin)}")
    if len(set(pin)) == 1:
        raise PinError("a PIN of one character repeated is guessed first; mix them")
    salt = secrets.token_bytes(16)
    kept = "$".join(("scrypt", str(_N), str(_R), str(_P), salt.hex(), _hash(pin, salt).hex()))
    change(engine, NAME, kept)
    sign_out(engine)


def draw_pin(engine: Engine) -> str | None:
    """Draw a PIN and set it; ``None`` where one was set before. Raises :class:`LogbookError`."""
    if has_pin(engine):
        return None
    pin = "0000"
    while len(set(pin)) == 1:
        pin = "".join(secrets.choice(string.digits) for _ in range(4))
    set_pin(engine, pin)
    return pin


def has_pin(engine: Engine) -> bool:
    """Whether a PIN was ever set."""
    return setting(engine, NAME) is not None


def is_pin(engine: Engine, pin: str) -> bool:
    """Whether this is the PIN; false as well where none was set. Takes a while, as it should."""
    kept = setting(engine, NAME)
    if kept is None or len(pin) > LONGEST:
        return False
    name, n, r, p, salt, digest = kept.split("$")
    if name != "scrypt":
        return False
    tried = _hash(pin, bytes.fromhex(salt), int(n), int(r), int(p))
    return hmac.compare_digest(tried, bytes.fromhex(digest))


def _hash(pin: str, salt: bytes, n: int = _N, r: int = _R, p: int = _P) -> bytes:
    with _one_at_a_time:
        return hashlib.scrypt(pin.encode("utf-8", "surrogatepass"), salt=salt, n=n, r=r, p=p)

"""The host's door: a PIN lets a browser in, and what a signed-in browser asks is known by it.

A sign-in is a cookie that no script can read and a token that only our own pages are given.
What changes anything needs both, so that another page can't borrow the cookie.
"""

from __future__ import annotations

import hashlib
import hmac
import math
import secrets
import threading
import time
from collections.abc import Callable
from typing import NamedTuple

from flask import Request
from sqlalchemy import Engine

from firmware_py.logbook.screen.pin import has_pin, is_pin
from firmware_py.logbook.screen.signins import (
    Access,
    accesses,
    forget_older,
    note_access,
    sign_in,
    sign_out,
    token_of,
)
from web.access.tries import Tries
from web.asks import AskError

COOKIE = "spurlock-host"
TOKEN_HEADER = "X-Spurlock-Token"
LASTS_S = 16 * 3600
"""A sign-in lasts for a long evening and the morning after."""

NO_PIN = "no host PIN is set yet; on the box, run: spurlock pin"
SIGN_IN = "this is the host's to do; give the host PIN first"
STRANGE = "this page's sign-in is an old one; load the page again"


class SignIn(NamedTuple):
    """What a browser is given: the cookie's value, and the token that its pages send along."""

    cookie: str
    token: str


class Door:
    """Lets the host in. Safe between threads; sign-ins stand in the logbook, tries here."""

    def __init__(
        self,
        engine: Engine,
        *,
        wall_us: Callable[[], int],
        now_s: Callable[[], float] = time.monotonic,
    ) -> None:
        self._engine = engine
        self._wall_us = wall_us
        self._now_s = now_s
        self._tries = Tries()
        self._lock = threading.Lock()

    def enter(self, pin: str, whence: str) -> SignIn:
        """Sign a browser in. Raises ``AskError``: 403 for a wrong PIN, 429 for too many tries."""
        with self._lock:
            self._may_try(whence)
            right = is_pin(self._engine, pin)
            if not right:
                if not has_pin(self._engine):
                    raise AskError(403, NO_PIN)
                self._tries.wrong(whence, self._now_s())
            else:
                self._tries.right(whence)
        self._note("host signed in" if right else "wrong PIN", whence)
        if not right:
            raise AskError(403, "that is not the host PIN")
        made = SignIn(secrets.token_urlsafe(32), secrets.token_urlsafe(32))
        sign_in(self._engine, _hash(made.cookie), made.token, self._wall_us())
        forget_older(self._engine, self._oldest_us())
        return made

    def leave(self, request: Request) -> None:
        """Sign a browser out."""
        sign_out(self._engine, _hash(request.cookies.get(COOKIE, "")))
        self._note("host signed out", request.remote_addr or "")

    def token(self, request: Request) -> str | None:
        """The token of a signed-in browser; ``None`` for anyone else."""
        cookie = request.cookies.get(COOKIE)
        if not cookie:
            return None
        return token_of(self._engine, _hash(cookie), self._oldest_us())

    def require(self, request: Request) -> None:
        """Raise ``AskError`` unless the host asks: 401 without a sign-in, 403 for a strange one."""
        token = self.token(request)
        if token is None:
            raise AskError(401, SIGN_IN if has_pin(self._engine) else NO_PIN)
        given = request.headers.get(TOKEN_HEADER, "")
        if not hmac.compare_digest(given.encode(), token.encode()):
            raise AskError(403, STRANGE)

    def calls(self, most: int) -> list[Access]:
        """The last calls at the door, newest first."""
        return accesses(self._engine, most)

    @property
    def has_pin(self) -> bool:
        """Whether there is a PIN at all."""
        return has_pin(self._engine)

    def _oldest_us(self) -> int:
        return self._wall_us() - LASTS_S * 1_000_000

    def _may_try(self, whence: str) -> None:
        wait_s = self._tries.wait_s(whence, self._now_s())
        if wait_s > 0:
            wait = math.ceil(wait_s)
            raise AskError(429, f"too many wrong PINs; wait {wait} s", retry_after_s=wait)

    def _note(self, what: str, whence: str) -> None:
        note_access(self._engine, what, whence, self._wall_us())


def _hash(cookie: str) -> str:
    return hashlib.sha256(cookie.encode("utf-8", "surrogatepass")).hexdigest()

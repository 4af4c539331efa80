"""What keeps other people's web pages away from the buttons, and scripts out of our pages."""

from __future__ import annotations

import ipaddress
import socket
from urllib.parse import urlsplit

from flask import Request, Response

HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; "
        "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
}

HOME_DOMAINS = (".local", ".lan", ".home", ".home.arpa", ".internal")
"""What home networks put behind a machine's name; none of them can be had on the Internet."""


def with_headers(response: Response) -> Response:
    """Put the security headers on a response; none of it is cached unless it says so itself."""
    for name, value in HEADERS.items():
        response.headers.setdefault(name, value)
    response.headers.setdefault("Cache-Control", "no-store")
    return response


def knows_host(host: str) -> bool:
    """Whether a ``Host`` header names this machine: an address, or a name of its own.

    A page elsewhere can make its own name point at this machine; under such a name nothing is
    served, or that page could press the buttons as if it were ours.
    """
    name = (urlsplit(f"//{host}").hostname or "") if _splits(host) else ""
    try:
        ipaddress.ip_address(name)
    except ValueError:
        own = socket.gethostname().lower()
        short = own.partition(".")[0]
        return name in {"localhost", own, short} or name in {short + end for end in HOME_DOMAINS}
    return True


def refusal(request: Request) -> tuple[int, str] | None:
    """Why a request that changes something is refused: status and reason, ``None`` if it is not.

    Browsers say where a request comes from; a program on this machine that says nothing is let in.
    """
    site = request.headers.get("Sec-Fetch-Site")
    if site is not None and site != "same-origin":
        return 403, "this request comes from another page; use the screen's own pages"
    origin = request.headers.get("Origin")
    if origin is not None and not _same(origin, request):
        return 403, f"this request comes from {origin}; use the screen's own pages"
    if request.mimetype != "application/json":
        return 415, "send JSON, with the header Content-Type: application/json"
    return None


def _same(origin: str, request: Request) -> bool:
    return origin == f"{request.scheme}://{request.host}"


def _splits(host: str) -> bool:
    try:
        urlsplit(f"//{host}")
    except ValueError:
        return False
    return True

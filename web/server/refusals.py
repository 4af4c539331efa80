"""What the server itself says to a request that never gets as far as the application."""

from __future__ import annotations

import json


def refusal(status: str, why: str) -> bytes:
    """A whole answer, after which the connection is closed; in the shape of the application's."""
    body = json.dumps({"error": why}).encode()
    head = (
        f"HTTP/1.1 {status}\r\nContent-Type: application/json\r\nContent-Length: {len(body)}\r\n"
        "Cache-Control: no-store\r\nX-Content-Type-Options: nosniff\r\nConnection: close\r\n\r\n"
    )
    return head.encode() + body


BAD = refusal("400 Bad Request", "this is no request that can be understood")
LATE = refusal("408 Request Timeout", "the request took too long to come; send it anew")
LARGE = refusal("413 Content Too Large", "this is more than the screen takes; send less")
BUSY = refusal("503 Service Unavailable", "too many are connected; try again in a moment")

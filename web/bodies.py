"""The body of a request that changes something, once it is known to be one of our own pages'."""

from __future__ import annotations

from flask import Request

from web.access.guards import refusal
from web.asks import AskError


def body_of(request: Request) -> bytes:
    """The raw body. Raises ``AskError`` for a request that another site's page has made."""
    refused = refusal(request)
    if refused is not None:
        raise AskError(*refused)
    return request.get_data(cache=False)

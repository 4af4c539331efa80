"""The bodies of what pages ask for, and whether they can be asked now."""

from __future__ import annotations

from typing import Annotated, Literal, TypeVar

import msgspec

from web.live.log import Followed

MOST = 2**31 - 1
Text = Annotated[str, msgspec.Meta(min_length=1, max_length=200)]
Body = TypeVar("Body")


class OrderBody(msgspec.Struct, forbid_unknown_fields=True):
    """A command: with a violation's number where it acknowledges, with a spur else."""

    command: Literal[
        "ask", "release", "hold", "hand-back", "work-done", "start-brake-test", "acknowledge"
    ]
    spur: Text | None = None
    violation: Annotated[int, msgspec.Meta(ge=1, le=MOST)] | None = None
    cars: Annotated[int, msgspec.Meta(ge=1, le=500)] | None = None
    note: Annotated[str, msgspec.Meta(max_length=500)] | None = None


class HandBody(msgspec.Struct, forbid_unknown_fields=True):
    """A hand at a simulated contact; ``made`` null cuts its wire, so that it is lost."""

    contact: Text
    made: bool | None


class AskError(Exception):
    """A request that can't be left: the HTTP status and the reason in plain words.

    ``retry_after_s`` is how long to wait before the next try, where waiting helps.
    """

    def __init__(self, status: int, reason: str, *, retry_after_s: int | None = None) -> None:
        super().__init__(reason)
        self.status = status
        self.reason = reason
        self.retry_after_s = retry_after_s


def decoded(data: bytes, shape: type[Body]) -> Body:
    """The body of a request. Raises ``AskError`` 400, which says what is wrong with it."""
    try:
        body = msgspec.json.decode(data, type=shape)
        msgspec.json.encode(body).decode("utf-8")
    except (msgspec.MsgspecError, RecursionError, UnicodeError) as wrong:
        raise AskError(400, f"this body can't be used: {wrong}") from None
    return body


def judge_order(body: OrderBody, followed: Followed | None, *, live: bool) -> None:
    """Raise ``AskError`` unless the order names what there is and an engine is there to answer.

    Whether the command makes sense now is for the engine to judge.
    """
    followed = answered(followed, live=live)
    if body.command == "acknowledge":
        _judge_acknowledge(body, followed)
        return
    if body.violation is not None:
        raise AskError(400, f"{body.command} takes a spur, not a violation")
    if body.spur is None:
        raise AskError(400, f'{body.command} needs a spur, such as "spur": "{_a_spur(followed)}"')
    if body.spur not in {spur.id for spur in followed.plan.layout.spurs}:
        raise AskError(404, f"there is no spur {body.spur!r} on this layout")
    brake_test = body.command == "start-brake-test"
    if brake_test and body.cars is None:
        raise AskError(400, 'start-brake-test needs the number of cars, such as "cars": 3')
    if not brake_test and body.cars is not None:
        raise AskError(400, f"{body.command} takes no cars; only start-brake-test does")


def judge_hand(body: HandBody, followed: Followed | None, *, live: bool, allowed: bool) -> None:
    """Raise ``AskError`` unless this screen may move this contact by hand."""
    if not allowed:
        raise AskError(409, "this screen was started without hands; contacts can only be read")
    if followed is not None and not followed.session.simulated:
        raise AskError(409, "these contacts are real; only simulated ones can be moved from here")
    followed = answered(followed, live=live)
    if body.contact not in {contact.name for contact in followed.plan.layout.contacts}:
        raise AskError(404, f"there is no contact {body.contact!r} on this layout")


def _judge_acknowledge(body: OrderBody, followed: Followed) -> None:
    if body.spur is not None or body.cars is not None:
        raise AskError(400, "acknowledge takes a violation and nothing else but a note")
    if body.violation is None:
        raise AskError(400, 'acknowledge needs a violation\'s number, such as "violation": 1')
    known = {one.number: one for one in followed.violations}
    if body.violation not in known:
        raise AskError(404, f"there is no violation {body.violation} in this session")
    if known[body.violation].acknowledged_t_us is not None:
        raise AskError(409, f"violation {body.violation} is acknowledged already")


def answered(followed: Followed | None, *, live: bool) -> Followed:
    """The session. Raises ``AskError`` 409 where no engine is there to answer for it."""
    if followed is None:
        raise AskError(409, "no session has begun; start the engine first")
    if not live:
        raise AskError(409, "the engine does not answer; nothing was asked")
    return followed


def _a_spur(followed: Followed) -> str:
    return next((spur.id for spur in followed.plan.layout.spurs), "kiln")

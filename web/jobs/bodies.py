"""The bodies of what the Jobs page asks for, and the job that one of them says."""

from __future__ import annotations

from typing import Annotated, Literal, TypeVar

import msgspec
from flask import Request
from werkzeug.exceptions import RequestEntityTooLarge

from firmware_py.layout.model import Layout
from firmware_py.logbook.screen.job_checks import MOST_JOBS, ill_formed, strangers, tidy
from firmware_py.logbook.screen.jobs import Car, Job, JobStop
from web.asks import MOST, AskError, decoded
from web.bodies import body_of

LARGEST_BODY = 64 * 1024
"""Bytes of a job or of a file of jobs; other requests are held to less."""

Body = TypeVar("Body")


class CarBody(msgspec.Struct, forbid_unknown_fields=True):
    """A car and its place."""

    car: str
    place: str = ""


class StopBody(msgspec.Struct, forbid_unknown_fields=True):
    """One stop of a job."""

    spur: str
    pull: list[CarBody] = []
    spot: list[CarBody] = []
    note: str = ""


class JobBody(msgspec.Struct, forbid_unknown_fields=True):
    """A job: a new one where ``id`` is 0, else the one that it takes the place of."""

    name: str
    crew: str = ""
    cars: int = 0
    rear: Literal["", "marker", "caboose"] = ""
    keys: list[str] = []
    stops: list[StopBody] = []
    id: Annotated[int, msgspec.Meta(ge=0, le=MOST)] = 0


class DropBody(msgspec.Struct, forbid_unknown_fields=True):
    """Takes a job away; ``back`` brings it back."""

    back: bool = False


class OrderBody(msgspec.Struct, forbid_unknown_fields=True):
    """Every job's id, in the order wanted."""

    ids: Annotated[list[Annotated[int, msgspec.Meta(ge=1)]], msgspec.Meta(max_length=MOST_JOBS)]


class ImportBody(msgspec.Struct, forbid_unknown_fields=True):
    """A file's text. With ``replace`` its jobs become the list, else they are added to it."""

    toml: str
    replace: bool = False


def job_in(body: JobBody, layout: Layout) -> Job:
    """The job that a body says, tidied.

    Raises ``AskError``: 400 for texts and numbers that no job can have, 409 for spurs and keys
    that this layout does not have.
    """
    job = tidy(_job(body))
    for status, found in ((400, ill_formed(job)), (409, strangers(job, layout))):
        if found:
            more = f" (and {len(found) - 1} more)" if len(found) > 1 else ""
            raise AskError(status, f"{found[0].what}{more}")
    return job


def large(request: Request, shape: type[Body], too_large: str) -> Body:
    """A body that may be larger than others. Raises ``AskError`` 413 with ``too_large``."""
    request.max_content_length = LARGEST_BODY
    try:
        return decoded(body_of(request), shape)
    except RequestEntityTooLarge:
        raise AskError(413, too_large) from None


def _job(body: JobBody) -> Job:
    stops = tuple(
        JobStop(stop.spur, _cars(stop.pull), _cars(stop.spot), stop.note) for stop in body.stops
    )
    return Job(body.name, body.crew, body.cars, body.rear, tuple(body.keys), stops, body.id)


def _cars(cars: list[CarBody]) -> tuple[Car, ...]:
    return tuple(Car(one.car, one.place) for one in cars)

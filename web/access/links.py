"""A crew's link: whoever has it works one job of one session, and no other.

It is made from the logbook's own secret, the job, and the last session that a host has closed.
So a link that is printed before the evening holds until the evening's session is closed, and
nothing has to be kept for it.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
from collections.abc import Iterable

from firmware_py.logbook.screen.jobs import Job

LENGTH = 20
OLD_ROUNDS = 12
"""A link of one of so many earlier sessions is told that it is old, rather than unknown."""


def link_of(secret: str, round_id: int, job_id: int) -> str:
    """The link's last part: 20 letters and digits, which say nothing of what they stand for."""
    told = f"job {job_id} after the session of {round_id}".encode()
    digest = hmac.new(bytes.fromhex(secret), told, hashlib.sha256).digest()
    return base64.b32encode(digest).decode().lower()[:LENGTH]


def job_of(link: str, secret: str, round_id: int, jobs: Iterable[Job]) -> Job | None:
    """The job that a link is for; ``None`` if it is for none of these, or of another round."""
    if len(link) != LENGTH or not link.isascii():
        return None
    found = None
    for job in jobs:
        if hmac.compare_digest(link, link_of(secret, round_id, job.id)):
            found = job
    return found

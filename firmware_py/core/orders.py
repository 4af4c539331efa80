"""Commands as the core takes them: one frozen record, whoever gave it."""

from __future__ import annotations

import msgspec

from firmware_py.core.names import Command


class Order(msgspec.Struct, frozen=True):
    """A command. It names a spur, or a violation's number where it acknowledges one.

    ``cars`` goes with ``start-brake-test`` only: how many cars the test is for, one or more.
    """

    command: Command
    spur: str | None = None
    violation: int | None = None
    cars: int | None = None

"""What an engine finds around it in a simulated session, in place of the real things."""

from __future__ import annotations

import contextlib
import logging
from collections.abc import Callable, Iterator
from unittest.mock import patch

import sqlalchemy

from firmware_py.engine import assembly, inflow, requests, watching, wires
from firmware_py.engine import engine as engine_module

from .hub import Hub
from .schedule import SimSchedule
from .watched import WatchedKeeper
from .world import SimBoard, SimFactory, World

LOOKS_S = 15.0
"""How often the engine is checked and watched: rarely, for each time costs a commit."""
LOOK_WITHIN_US = 18_000_000
CLERK_LOOKS_S = 3.0
ENGINE_ROOM = 300
"""Readings that may wait in the engine's own queue: few, so that it is full now and then."""


class Manager:
    """The service manager, which counts how often its watchdog was fed."""

    feed_every_s = LOOKS_S

    def __init__(self) -> None:
        self.fed = 0

    def tell(self, *words: str) -> bool:
        self.fed += "WATCHDOG=1" in words
        return True


class NoCaretaker:
    """Nights and their backups are beyond a simulated session."""

    def check(self) -> None:
        """Nothing is due."""

    def wait(self, timeout: float = 10.0) -> bool:
        """Nothing was begun."""
        return True


@contextlib.contextmanager
def around_an_engine(
    hub: Hub,
    world: World,
    schedule: Callable[[], SimSchedule],
    keeper: Callable[[sqlalchemy.Engine], WatchedKeeper],
) -> Iterator[None]:
    """Have every engine that is put together inside find these around it, and log nowhere else."""
    with contextlib.ExitStack() as stack:
        for module, name, ours in (
            (wires, "Board", lambda _layout, _factory: SimBoard(world, hub)),
            (wires, "SimulatedFactory", lambda: SimFactory(world)),
            (assembly, "Schedule", schedule),
            (assembly, "Keeper", keeper),
            (assembly, "Caretaker", lambda *_: NoCaretaker()),
            (assembly, "CHECK_EVERY_S", LOOKS_S),
            (requests, "LOOK_EVERY_S", CLERK_LOOKS_S),
            (watching, "LOOK_EVERY_S", LOOKS_S),
            (watching, "TOKEN_WITHIN_US", LOOK_WITHIN_US),
            (watching, "write", lambda _path, _record: None),
            (engine_module, "Inflow", lambda queue: inflow.Inflow(queue, ENGINE_ROOM)),
        ):
            stack.enter_context(patch.object(module, name, ours))
        stack.callback(logging.disable, logging.root.manager.disable)
        logging.disable(logging.CRITICAL)
        yield

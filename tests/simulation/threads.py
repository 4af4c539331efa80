"""What stands in for ``threading``, ``time`` and the engine's queue in a simulated session."""

from __future__ import annotations

import contextlib
import gc
import importlib
import pkgutil
import queue
import threading
import time
from collections import deque
from collections.abc import Callable, Iterator
from types import ModuleType, SimpleNamespace
from typing import Any
from unittest.mock import patch

import firmware_py.engine
import firmware_py.logbook

from .hub import Hub, Task

ROOMS = (firmware_py.engine, firmware_py.logbook)


class Lock:
    """A lock that tasks wait for in virtual time."""

    def __init__(self, hub: Hub) -> None:
        self._hub = hub
        self._held = False

    def acquire(self, blocking: bool = True, timeout: float = -1) -> bool:
        if self._held and not blocking:
            return False
        while self._held:
            if not self._hub.block(lambda: not self._held, None if timeout < 0 else timeout):
                return False
        self._held = True
        return True

    def release(self) -> None:
        self._held = False

    def __enter__(self) -> bool:
        return self.acquire()

    def __exit__(self, *_: object) -> None:
        self.release()


class Condition:
    """A condition on a lock."""

    def __init__(self, hub: Hub, lock: Lock | None = None) -> None:
        self._hub = hub
        self._lock = lock or Lock(hub)
        self._told = 0

    def __enter__(self) -> bool:
        return self._lock.acquire()

    def __exit__(self, *_: object) -> None:
        self._lock.release()

    def wait(self, timeout: float | None = None) -> bool:
        told = self._told
        self._lock.release()
        try:
            return self._hub.block(lambda: self._told != told, timeout)
        finally:
            self._lock.acquire()

    def wait_for(self, what: Callable[[], bool], timeout: float | None = None) -> bool:
        self._lock.release()
        try:
            return self._hub.block(what, timeout)
        finally:
            self._lock.acquire()

    def notify(self, _many: int = 1) -> None:
        self._told += 1

    notify_all = notify


class Event:
    """A flag that tasks wait for."""

    def __init__(self, hub: Hub) -> None:
        self._hub = hub
        self._flag = False

    def is_set(self) -> bool:
        return self._flag

    def set(self) -> None:
        self._flag = True

    def clear(self) -> None:
        self._flag = False

    def wait(self, timeout: float | None = None) -> bool:
        return self._flag or self._hub.block(self.is_set, timeout)


class Thread:
    """A thread of the running process: a task."""

    def __init__(
        self,
        hub: Hub,
        target: Callable[..., object],
        name: str = "thread",
        daemon: bool | None = None,
        args: tuple[Any, ...] = (),
    ) -> None:
        self._hub = hub
        self._act = lambda: target(*args)
        self._task: Task | None = None
        self.name = name

    def start(self) -> None:
        self._task = self._hub.spawn(self.name, self._act)

    def is_alive(self) -> bool:
        return self._task is not None and not self._task.thread.dead

    def join(self, timeout: float | None = None) -> None:
        if self.is_alive():
            self._hub.block(lambda: not self.is_alive(), timeout)


class Queue:
    """The engine's queue; ``idle`` is called whenever the engine has done all that it was given."""

    def __init__(self, hub: Hub, idle: Callable[[], None]) -> None:
        self._hub = hub
        self._idle = idle
        self._items: deque[Any] = deque()

    def put(self, item: object) -> None:
        self._items.append(item)

    def get(self, block: bool = True, timeout: float | None = None) -> Any:  # noqa: ANN401
        self._idle()
        self._hub.point()
        if not self._items and block:
            self._hub.block(lambda: bool(self._items), timeout)
        if not self._items:
            raise queue.Empty
        return self._items.popleft()

    def qsize(self) -> int:
        return len(self._items)


def _threading(hub: Hub) -> SimpleNamespace:
    return SimpleNamespace(
        Lock=lambda: Lock(hub),
        RLock=lambda: Lock(hub),
        Condition=lambda lock=None: Condition(hub, lock),
        Event=lambda: Event(hub),
        Thread=lambda *args, **named: Thread(hub, *args, **named),
    )


def _time(hub: Hub) -> SimpleNamespace:
    def wall_ns() -> int:
        return (hub.now_us + hub.wall_offset_us) * 1000

    return SimpleNamespace(
        monotonic=lambda: hub.now_us / 1_000_000,
        monotonic_ns=lambda: hub.now_us * 1000,
        time=lambda: wall_ns() / 1_000_000_000,
        time_ns=wall_ns,
        sleep=lambda seconds: hub.block(lambda: False, seconds),
    )


def _modules() -> Iterator[ModuleType]:
    for room in ROOMS:
        for found in pkgutil.iter_modules(room.__path__, f"{room.__name__}."):
            if not found.ispkg:
                yield importlib.import_module(found.name)


MODULES = tuple(_modules())


@contextlib.contextmanager
def virtual(hub: Hub, idle: Callable[[], None]) -> Iterator[None]:
    """Have engine and logbook live in virtual time inside."""
    # The engine tidies memory as a session begins, which a process of its own can well afford.
    tidy = SimpleNamespace(collect=lambda: 0, freeze=lambda: None, enable=lambda: None)
    threads, clock = _threading(hub), _time(hub)
    with contextlib.ExitStack() as stack:
        for module in MODULES:
            for name, real, ours in (
                ("threading", threading, threads),
                ("time", time, clock),
                ("gc", gc, tidy),
            ):
                if getattr(module, name, None) is real:
                    stack.enter_context(patch.object(module, name, ours))
            if getattr(module, "SimpleQueue", None) is queue.SimpleQueue:
                stack.enter_context(patch.object(module, "SimpleQueue", lambda: Queue(hub, idle)))
        yield

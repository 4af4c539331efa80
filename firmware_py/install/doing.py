"""Does the steps of a plan, one after the other, on a machine."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Callable, Iterable
from pathlib import Path

from firmware_py.install.errors import InstallError
from firmware_py.install.files import File
from firmware_py.install.machine import Machine
from firmware_py.install.releases import build
from firmware_py.install.steps import (
    Build,
    Copy,
    Folder,
    Link,
    Manage,
    Remove,
    SetPin,
    Step,
    Users,
    Write,
)
from firmware_py.logbook.errors import LogbookError
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.screen.pin import PinError, set_pin

Builder = Callable[[Machine, Path, Path], None]
"""Makes a release in a folder from a folder of wheels."""


def do(machine: Machine, steps: Iterable[Step], builder: Builder = build) -> None:
    """Do them all; raises ``InstallError`` at the first that fails."""
    for step in steps:
        try:
            _do(machine, step, builder)
        except (OSError, LogbookError, PinError) as error:
            raise InstallError(str(error)) from error


def _do(machine: Machine, step: Step, builder: Builder) -> None:
    match step:
        case Folder(path, mode, owned):
            _folder(machine, machine.at(path), mode, owned)
        case Build(release, wheels):
            builder(machine, machine.at(release), wheels)
        case Write(file, owned):
            write(machine, file, owned=owned)
        case Copy(source, path):
            write(machine, File(path, source.read_text("utf-8"), 0o600), owned=True)
        case Link(path, to):
            link(machine.at(path), str(to))
        case SetPin(logbook, pin):
            _set_pin(machine, machine.at(logbook), pin)
        case Users(file):
            machine.make_users(file)
        case Manage(words, may_fail):
            _manage(machine, words, may_fail)
        case Remove(path):
            _remove(machine.at(path))


def write(machine: Machine, file: File, *, owned: bool = False) -> None:
    """Write a file whole, or leave what was there; a power cut finds the one or the other."""
    path = machine.at(file.path)
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, fresh = tempfile.mkstemp(prefix=".spurlock-", dir=path.parent)
    try:
        with os.fdopen(handle, "w", encoding="utf-8", errors="surrogateescape") as stream:
            stream.write(file.text)
            os.fchmod(stream.fileno(), file.mode)
            stream.flush()
            os.fsync(stream.fileno())
        if owned:
            machine.own(Path(fresh))
        Path(fresh).replace(path)
    except BaseException:
        Path(fresh).unlink(missing_ok=True)
        raise


def link(path: Path, to: str) -> None:
    """Have a name lead elsewhere, from one moment to the next."""
    path.parent.mkdir(parents=True, exist_ok=True)
    fresh = path.with_name(f".{path.name}.spurlock")
    fresh.unlink(missing_ok=True)
    fresh.symlink_to(to)
    fresh.replace(path)


def _folder(machine: Machine, path: Path, mode: int, owned: bool) -> None:
    path.mkdir(parents=True, exist_ok=True)
    path.chmod(mode)
    if owned:
        machine.own(path)


def _set_pin(machine: Machine, logbook: Path, pin: str) -> None:
    database = open_engine(str(logbook))
    try:
        set_pin(database, pin)
    finally:
        database.dispose()
    for path in logbook.parent.glob(f"{logbook.name}*"):
        path.chmod(0o600)
        machine.own(path)


def _manage(machine: Machine, words: tuple[str, ...], may_fail: bool) -> None:
    try:
        machine.systemctl(*words)
    except InstallError:
        if not may_fail:
            raise


def _remove(path: Path) -> None:
    if path.is_dir() and not path.is_symlink():
        shutil.rmtree(path)
    else:
        path.unlink(missing_ok=True)

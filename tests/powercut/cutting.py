"""Files as a power cut leaves them, made from a record of what was written and what was synced.

What a disk keeps, from the worst case that SQLite is built for ("Atomic Commit In SQLite",
sqlite.org/atomiccommit.html, sections 2 and 9): what was synced is there; of what was not, any
part may be, in any order, each write torn between sectors; a file that was made or unlinked is so
for certain only once its folder was synced, or, as file systems of the Pi (ext4) do it, once the
new file itself was.
"""

from __future__ import annotations

import json
import random
import struct
from collections.abc import Iterator
from dataclasses import dataclass, field
from enum import Enum
from pathlib import Path

SECTOR = 512
HEAD = struct.Struct("=ciqI")
PROMISES = "promises"
FORGOTTEN = ("-shm",)
"""The index of the WAL lives in shared memory; after a power cut it is built anew."""


@dataclass(frozen=True, slots=True)
class Step:
    """One operation: ``letter`` as ``recorder.c`` writes it, on the file called ``name``."""

    letter: str
    name: str
    offset: int = 0
    data: bytes = b""


class Keeps(Enum):
    """What of the unsynced part a disk happened to keep."""

    NOTHING = "nothing"
    SOME = "some"
    ALL = "all"


def steps(record: bytes) -> Iterator[Step]:
    """The operations of a record, oldest first."""
    names: dict[int, str] = {}
    at = 0
    while at + HEAD.size <= len(record):
        letter, number, offset, length = HEAD.unpack_from(record, at)
        data = record[at + HEAD.size : at + HEAD.size + length]
        at += HEAD.size + length
        letter = letter.decode()
        if letter == "O":
            names[number] = Path(data.decode()).name
            yield Step("O", names[number])
        elif letter == "U":
            yield Step("U", Path(data.decode()).name)
        else:
            yield Step(letter, names.get(number, ""), offset, data)


@dataclass
class File:
    """What is surely on the disk, ``None`` if that is no file, and what may be."""

    synced: bytearray | None = None
    pending: list[Step] = field(default_factory=list)


class Disk:
    """Takes steps, and makes at any moment the files that a cut would leave."""

    def __init__(self) -> None:
        self._files: dict[str, File] = {}
        self.promised: dict[str, int] = {}
        self.syncs = 0

    def take(self, step: Step) -> None:
        """Let one operation be done."""
        if step.name == PROMISES:
            self._promise(step)
        elif step.letter == "D":
            for file in self._files.values():
                _settle_names(file)
        elif step.letter == "S":
            self.syncs += 1
            self._sync(step.name)
        elif not step.name.endswith(FORGOTTEN):
            file = self._files.setdefault(step.name, File())
            file.pending.append(step)

    def _promise(self, step: Step) -> None:
        if step.letter == "W":
            for name, count in json.loads(step.data).items():
                if name != "by":
                    self.promised[name] = max(count, self.promised.get(name, 0))

    def _sync(self, name: str) -> None:
        if name.endswith(FORGOTTEN):
            return
        file = self._files.setdefault(name, File())
        for step in file.pending:
            file.synced = _applied(file.synced, step)
        file.pending = []

    def cut(self, folder: Path, keeps: Keeps, chance: random.Random) -> None:
        """Write into an empty ``folder`` what a power cut at this moment leaves."""
        for name, file in self._files.items():
            left = None if file.synced is None else bytearray(file.synced)
            for step in file.pending:
                for part in _kept(step, keeps, chance):
                    left = _applied(left, part)
            if left is not None:
                (folder / name).write_bytes(left)


def _settle_names(file: File) -> None:
    """A synced folder knows which files there are; what is in them is another matter."""
    rest: list[Step] = []
    for step in file.pending:
        if step.letter == "O" and file.synced is None and not rest:
            file.synced = bytearray()
        elif step.letter == "U":
            file.synced, rest = None, []
        elif step.letter != "O" or file.synced is None:
            rest.append(step)
    file.pending = rest


def _applied(left: bytearray | None, step: Step) -> bytearray | None:
    if step.letter == "U":
        return None
    left = bytearray() if left is None else left
    if step.letter == "W":
        if len(left) < step.offset:
            left.extend(bytes(step.offset - len(left)))
        left[step.offset : step.offset + len(step.data)] = step.data
    elif step.letter == "T":
        del left[step.offset :]
        left.extend(bytes(step.offset - len(left)))
    return left


def _kept(step: Step, keeps: Keeps, chance: random.Random) -> Iterator[Step]:
    """The parts of an unsynced operation that a disk kept: all, none, or some sectors of it."""
    if keeps is Keeps.NOTHING:
        return
    if keeps is Keeps.ALL or step.letter != "W":
        if keeps is Keeps.ALL or chance.random() < 0.5:
            yield step
        return
    at = step.offset
    end = step.offset + len(step.data)
    mood = chance.choice([0.0, 0.5, 1.0])
    while at < end:
        until = min(end, (at // SECTOR + 1) * SECTOR)
        if chance.random() < mood:
            data = step.data[at - step.offset : until - step.offset]
            yield Step("W", step.name, at, data)
        at = until

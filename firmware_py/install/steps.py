"""What installing, and removing, consists of: steps as data, so that they can be shown first."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from pathlib import PurePosixPath as Place

from firmware_py.install.files import File


@dataclass(frozen=True, slots=True)
class Folder:
    """Make a folder; ``owned`` gives it to the service's user."""

    path: Place
    mode: int = 0o755
    owned: bool = False


@dataclass(frozen=True, slots=True)
class Build:
    """Make a release: an environment of its own with Spurlock and its libraries, from wheels."""

    release: Place
    wheels: Path


@dataclass(frozen=True, slots=True)
class Write:
    """Write a file, whole, in place of one that may be there; ``owned`` as with a folder."""

    file: File
    owned: bool = False


@dataclass(frozen=True, slots=True)
class Copy:
    """Copy a file of the owner's for the service's user alone; what is in it is never shown."""

    source: Path
    path: Place


@dataclass(frozen=True, slots=True)
class Link:
    """Have a name lead to another place."""

    path: Place
    to: Place


@dataclass(frozen=True, slots=True)
class SetPin:
    """Set the host's PIN in the logbook."""

    logbook: Place
    pin: str = field(repr=False)


@dataclass(frozen=True, slots=True)
class Users:
    """Make the service's user and groups, as a file of sysusers.d says."""

    file: Place


@dataclass(frozen=True, slots=True)
class Manage:
    """Have the service manager do something: words for ``systemctl``.

    ``may_fail`` where what it would stop may not be there.
    """

    words: tuple[str, ...]
    may_fail: bool = False


@dataclass(frozen=True, slots=True)
class Remove:
    """Remove a file, or a folder with all that it holds; one that is absent is no error."""

    path: Place


Step = Folder | Build | Write | Copy | Link | SetPin | Users | Manage | Remove


def told(step: Step) -> Iterator[str]:
    """A step in words, with the whole text of what it writes."""
    match step:
        case Folder(path, mode):
            yield f"folder   {path}  (mode {mode:o})"
        case Build(release, wheels):
            yield f"software {release}  (Spurlock and its libraries, from {wheels})"
        case Write(file):
            yield f"file     {file.path}  (mode {file.mode:o})"
            yield from (f"         | {line}".rstrip() for line in file.text.splitlines())
        case Copy(source, path):
            yield f"copy     {path}  (mode 600, from {source})"
        case Link(path, to):
            yield f"link     {path} -> {to}"
        case SetPin(logbook):
            yield f"PIN      {logbook}  (kept as a salted hash)"
        case Users(file):
            yield f"run      systemd-sysusers {file}"
        case Manage(words):
            yield f"run      systemctl {' '.join(words)}"
        case Remove(path):
            yield f"remove   {path}"

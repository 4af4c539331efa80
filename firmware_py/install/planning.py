"""The plans: what is done to install an appliance, and to remove one. Nothing here does it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from pathlib import PurePosixPath as Place

from firmware_py.install.boot_settings import wanted, with_lines, without_lines
from firmware_py.install.files import SYSUSERS, File, files
from firmware_py.install.places import (
    BACKUPS,
    COMMAND,
    CURRENT,
    DATA,
    RECORD,
    RELEASES,
    SOFTWARE,
    TARGET_UNIT,
    UNITS,
    Box,
)
from firmware_py.install.record import Installed, text_of
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

ENABLED = UNITS / "multi-user.target.wants" / TARGET_UNIT
OLD_SUFFIX = ".before-spurlock"


@dataclass(frozen=True, slots=True)
class Wish:
    """What the builder wants installed: software from ``wheels``, and the text of his layout.

    On a board host that is the board's file. ``folder`` is where he has it, with the files that
    its club's broker asks for beside it. ``boot`` is the Pi's boot file with its text, or
    ``None`` to leave it alone; ``kept`` is a layout that an earlier installation left, where it
    differs.
    """

    box: Box
    wheels: Path
    version: str
    layout: str
    pin: str | None = None
    boot: File | None = None
    kept: File | None = None
    folder: Path = Path()


def linked(release: str) -> Place:
    """Where ``CURRENT`` leads: seen from its own folder, so that it is right under any root."""
    return RELEASES.relative_to(SOFTWARE) / release


def installed_of(wish: Wish, release: str) -> Installed:
    """What will have been installed."""
    box = wish.box
    return Installed(
        release=release,
        version=wish.version,
        host=box.host,
        port=box.port,
        buses=box.buses,
        wall_screen=box.wall_screen,
        files=tuple(str(file.path) for file in files(box)),
        boot=str(wish.boot.path) if wish.boot else None,
        club=box.club,
        logbook=box.logbook,
    )


def installing(wish: Wish) -> tuple[Step, ...]:
    """Every step, in its order. Software first, since it is what may fail."""
    release = wish.version
    steps: list[Step] = [Folder(SOFTWARE), Folder(RELEASES), Build(RELEASES / release, wish.wheels)]
    steps += [Link(CURRENT, linked(release)), Link(COMMAND, CURRENT / "bin" / "spurlock")]
    steps += [Write(file) for file in files(wish.box)]
    steps += [Users(SYSUSERS), Folder(DATA, 0o750, owned=True), Folder(BACKUPS, 0o700, owned=True)]
    if wish.kept is not None:
        steps.append(Write(wish.kept, owned=True))
    about, logbook = wish.box.about, wish.box.kept
    steps.append(Write(File(about, wish.layout, 0o600 if wish.box.is_board else 0o644), owned=True))
    steps += [Copy(wish.folder / name, DATA / name) for name in _of_club(wish.box)]
    if wish.pin is not None and logbook is not None:
        steps.append(SetPin(logbook, wish.pin))
    if wish.boot is not None:
        was = wish.boot
        steps.append(Write(replace(was, path=Place(f"{was.path}{OLD_SUFFIX}"))))
        steps.append(Write(replace(was, text=with_lines(was.text, wanted(wish.box.buses)))))
    steps.append(Write(File(RECORD, text_of(installed_of(wish, release)))))
    steps += [Link(ENABLED, UNITS / TARGET_UNIT), Manage(("daemon-reload",))]
    return (*steps, Manage(("start", TARGET_UNIT)))


def _of_club(box: Box) -> tuple[str, ...]:
    """The files that the box's broker asks for."""
    if box.club is None:
        return ()
    return tuple(name for name in (box.club.credentials, box.club.ca) if name is not None)


def removing(
    installed: Installed, boot: File | None, *, data: bool, extra: Sequence[Place] = ()
) -> tuple[Step, ...]:
    """Every step of removing it; ``data`` removes what is the owner's as well.

    ``boot`` is the boot file as it is now; ``extra`` are changes that somebody made to our units.
    """
    steps: list[Step] = [Manage(("stop", TARGET_UNIT), may_fail=True), Remove(ENABLED)]
    steps += [Remove(Place(path)) for path in installed.files]
    steps += [Remove(place) for place in extra]
    if boot is not None:
        steps.append(Write(replace(boot, text=without_lines(boot.text))))
        steps.append(Remove(Place(f"{boot.path}{OLD_SUFFIX}")))
    steps += [Remove(COMMAND), Remove(SOFTWARE)]
    if data:
        steps.append(Remove(DATA))
    return (*steps, Manage(("daemon-reload",), may_fail=True))

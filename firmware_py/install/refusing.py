"""Why an installation is refused, in words; what was looked at comes in as plain facts."""

from __future__ import annotations

import errno
import socket
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from pathlib import PurePosixPath as Place

from firmware_py.install.clubs import lacking
from firmware_py.install.errors import InstallError
from firmware_py.install.machine import Machine
from firmware_py.install.places import ALL_UNITS, UNITS, Box
from firmware_py.install.record import read
from firmware_py.install.releases import has_psycopg, has_spi
from firmware_py.layout.model import Layout, outputs_of

MODEL = Place("/proc/device-tree/model")


@dataclass(frozen=True, slots=True)
class Facts:
    """What was found on the machine.

    ``model`` is what the machine calls itself, empty where it does not say; ``listening`` why
    the screen's address can't be had; ``units`` those of our units that are there;
    ``pinless`` the wires without a pin; ``spi`` whether the wheels will do for chips on SPI, and
    ``psycopg`` whether they will for PostgreSQL.
    """

    rights: bool
    model: str
    wide: bool
    listening: str | None
    installed: str | None
    units: tuple[str, ...]
    pinless: tuple[str, ...]
    spi: bool = True
    psycopg: bool = True


def found(machine: Machine, box: Box, layout: Layout | None, wheels: Path) -> Facts:
    """Look at the machine. A board host has no layout, and no pins."""
    record = read(machine.root)
    return Facts(
        rights=machine.rights or not machine.live,
        model=_model(machine),
        wide=sys.maxsize > 2**32,
        listening=None if record else listening(box.host, box.port),
        installed=record.version if record else None,
        units=tuple(name for name in ALL_UNITS if machine.at(UNITS / name).exists()),
        pinless=pinless(layout) if layout else (),
        spi=has_spi(wheels),
        psycopg=has_psycopg(wheels),
    )


def refusals(facts: Facts, box: Box, *, any_machine: bool = False) -> Iterator[str]:
    """Every reason not to install, each with what would be right."""
    if not facts.rights:
        yield "this needs root's rights: put sudo in front of the same command"
    if not any_machine and not box.is_board:
        if "Raspberry Pi" not in facts.model:
            what = f"it calls itself {facts.model!r}" if facts.model else "it does not say what"
            yield (
                f"this machine is no Raspberry Pi ({what}); install it on one, or add "
                "--any-machine if you know that its GPIO chip will do"
            )
        if not facts.wide:
            yield "this system is a 32-bit one; put the 64-bit Raspberry Pi OS on the card"
    if facts.installed is not None:
        yield (
            f"Spurlock {facts.installed} is installed here already; renew it with spurlock "
            "upgrade, or remove it with spurlock uninstall"
        )
    elif facts.units:
        there = ", ".join(str(UNITS / name) for name in facts.units)
        yield f"there is a service of that name already, not made by this command: remove {there}"
    if facts.pinless:
        wires = ", ".join(facts.pinless)
        yield f'these wires have no pin yet ("auto"): {wires}; spurlock plan gives them pins'
    if "spi" in box.buses and not facts.spi:
        yield (
            "the layout's chips on SPI need spidev, of which the folder has no wheel: make one on "
            "a Pi with a network (pip wheel --no-deps spidev) and put it there"
        )
    yield from lacking(box, psycopg=facts.psycopg)
    if box.port < 1024:
        yield f"port {box.port} is only for root; choose one from 1024 on"
    elif facts.listening is not None:
        yield facts.listening


def pinless(layout: Layout) -> tuple[str, ...]:
    """The wires that real pins would miss."""
    names = [contact.name for contact in layout.contacts if contact.pin is None]
    for thing in layout.things:
        names += [f"{thing.id}.{what}" for what, wire in outputs_of(thing) if wire.pin is None]
    return tuple(names)


def listening(host: str, port: int) -> str | None:
    """Why the screen can't listen there; ``None`` if it can."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    try:
        with socket.socket(family, socket.SOCK_STREAM) as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            probe.bind((host, port))
    except OSError as error:
        if error.errno == errno.EADDRINUSE:
            other = "stop that program, or choose another with --port"
            return f"port {port} is taken: another program listens at {host}:{port}; {other}"
        return f"--host {host}: {error.strerror or error}"
    return None


def _model(machine: Machine) -> str:
    try:
        return machine.at(MODEL).read_text("utf-8", "replace").strip("\0\n ")
    except OSError:
        return ""


def refuse(reasons: Iterator[str]) -> None:
    """Raise ``InstallError`` with all reasons, if there are any."""
    if said := list(reasons):
        raise InstallError("\n".join(said))

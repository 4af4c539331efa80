"""``spurlock install``: an appliance that starts by itself and watches over itself."""

from __future__ import annotations

import argparse
import getpass
import sys
from dataclasses import replace
from functools import partial
from pathlib import Path
from pathlib import PurePosixPath as Place
from typing import TYPE_CHECKING

from firmware_py.commands.install_what import what_of
from firmware_py.install.doing import do
from firmware_py.install.errors import InstallError
from firmware_py.install.files import File
from firmware_py.install.machine import Machine
from firmware_py.install.places import DATA, USER, Box
from firmware_py.install.planning import Wish, installed_of, installing, removing
from firmware_py.install.proving import look, prove
from firmware_py.install.refusing import found, refusals, refuse
from firmware_py.install.releases import version_in
from firmware_py.install.steps import Step, told
from firmware_py.layout.errors import LayoutError
from firmware_py.service.doctor.boot_file import CONFIGS

if TYPE_CHECKING:
    Subparsers = argparse._SubParsersAction[argparse.ArgumentParser]

DONE, UNWELL, REFUSED = 0, 1, 2
"""Exit statuses."""

DESCRIPTION = """\
Make an appliance of this Pi: engine and screen start with the machine, are
watched over by systemd, and may touch nothing that is not theirs. A layout with
a [node] table has its courier started and watched over as well. With --board, a
board host is made instead: a gatherer and the screen of all boxes.

Without --for-real nothing is changed: every folder, file, link and command is
shown as it would be. The layout is copied; its logbook and backups lie beside
the copy, in /var/lib/spurlock, and stay there whatever is upgraded or removed.
"""

EXAMPLES = """\
examples:
  spurlock install my-layout.toml --wheels wheels                show what it would do
  sudo .venv/bin/spurlock install my-layout.toml --wheels wheels --for-real
  spurlock install my-layout.toml --wheels wheels --host 0.0.0.0 let phones see the board
  spurlock install --board club.toml --wheels wheels             a club's board host
"""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command to the console script's parser."""
    parser = subparsers.add_parser(
        "install",
        help="make an appliance of a Pi: it starts by itself, and watches over itself",
        description=DESCRIPTION,
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument(
        "layout", metavar="LAYOUT", type=Path, nargs="?", help="the layout file (TOML)"
    )
    parser.add_argument(
        "--board", metavar="FILE", type=Path, help="a board's file (TOML), for a board host"
    )
    parser.add_argument(
        "--wheels",
        metavar="FOLDER",
        type=Path,
        required=True,
        help='Spurlock and its libraries, as "spurlock wheels" makes it',
    )
    parser.add_argument("--host", default="127.0.0.1", help="where the screen listens (127.0.0.1)")
    parser.add_argument("--port", type=int, default=8080, help="its port (8080)")
    parser.add_argument(
        "--wall-screen", action="store_true", help="have this Pi's own desktop show the board"
    )
    parser.add_argument(
        "--leave-boot", action="store_true", help="leave the Pi's boot settings as they are"
    )
    parser.add_argument(
        "--no-pin", action="store_true", help="set no host PIN now; else it is asked for"
    )
    parser.add_argument(
        "--any-machine", action="store_true", help="even where this is no Raspberry Pi"
    )
    add_doing(parser)
    parser.set_defaults(run=run)


def add_doing(parser: argparse.ArgumentParser) -> None:
    """Add whether it is done, and where."""
    parser.add_argument("--for-real", action="store_true", help="do it; else it is only shown")
    parser.add_argument(
        "--root",
        metavar="DIR",
        type=Path,
        default=Path("/"),
        help="the root folder of another system with this one's Python, or one to throw away",
    )


def run(args: argparse.Namespace) -> int:
    """Run the command; the answer is the exit status."""
    try:
        return install(args, Machine(args.root))
    except (InstallError, LayoutError) as error:
        print(error, file=sys.stderr)
        return REFUSED


def install(args: argparse.Namespace, machine: Machine) -> int:
    """Install, or show what that would be. Raises ``InstallError`` and ``LayoutError``."""
    address = args.host, args.port
    what = what_of(args.layout, args.board, address, wall_screen=args.wall_screen)
    box = what.box
    wish = Wish(
        box,
        args.wheels,
        version_in(args.wheels),
        what.text,
        boot=None if args.leave_boot or box.is_board else boot_file(machine),
        kept=_kept(machine, box, what.text),
        folder=what.folder,
    )
    facts = found(machine, box, what.layout, args.wheels)
    reasons = refusals(facts, box, any_machine=args.any_machine)
    if not args.for_real:
        return _shown(installing(wish), list(reasons))
    refuse(reasons)
    pin = None if args.no_pin or box.kept is None else asked_pin()
    _done(machine, replace(wish, pin=pin))
    _tell_rest(wish, args, machine)
    if not machine.live:
        return DONE
    print("Waiting until all of it has been well for a while.", flush=True)
    amiss = prove(partial(look, machine, box))
    if amiss is not None:
        print(f"It is installed, but not well: {amiss}.")
        print(f"Ask: sudo -u {USER} spurlock doctor {box.about}")
        return UNWELL
    print("It is well.")
    return DONE


def boot_file(machine: Machine) -> File | None:
    """The Pi's boot settings as they are; ``None`` where there are none."""
    for place in CONFIGS:
        path = machine.at(place)
        if path.is_file():
            return File(place, path.read_text("utf-8", "surrogateescape"), 0o755)
    return None


def asked_pin() -> str:
    """The host's PIN, asked for twice, or read from standard input where that is no terminal."""
    if not sys.stdin.isatty():
        return sys.stdin.readline().rstrip("\r\n")
    pin = getpass.getpass("Host PIN: ")
    if getpass.getpass("Once more: ") != pin:
        raise InstallError("the two PINs differ; nothing was changed")
    return pin


def _done(machine: Machine, wish: Wish) -> None:
    """Do all of it, or leave nothing behind but what is the owner's."""
    try:
        do(machine, installing(wish))
    except InstallError as error:
        do(machine, removing(installed_of(wish, wish.version), wish.boot, data=False))
        raise InstallError(f"{error}\nNothing was left installed.") from error


def _kept(machine: Machine, box: Box, text: str) -> File | None:
    """The layout of an earlier installation, under another name, where this is another one."""
    there, name = machine.at(box.about), box.about.stem
    try:
        was = there.read_text("utf-8")
    except OSError:
        return None
    number = 1
    while machine.at(DATA / f"{name}-earlier-{number}.toml").exists():
        number += 1
    return None if was == text else File(DATA / f"{name}-earlier-{number}.toml", was, 0o600)


def _shown(steps: tuple[Step, ...], reasons: list[str]) -> int:
    for step in steps:
        print("\n".join(told(step)))
    if reasons:
        print("\nAs it stands, this would be refused:")
        print("\n".join(f"- {reason}" for reason in reasons))
        return REFUSED
    print("\nNothing was changed. To do it, say the same with --for-real.")
    return DONE


def _tell_rest(wish: Wish, args: argparse.Namespace, machine: Machine) -> None:
    print(f"Spurlock {wish.version} is installed; its data lie in {DATA}.")
    if wish.boot is not None:
        print(f"The boot settings in {Place(wish.boot.path)} hold after the next reboot.")
    elif not args.leave_boot and not wish.box.is_board:
        print("There is no config.txt here: set strict_gpiod by hand (hardware_docs).")
    if wish.box.kept is None and not args.no_pin:
        print(f"Set the host's PIN: sudo -u {USER} spurlock pin {wish.box.database}")
    if not machine.live:
        print("It starts when that system does.")

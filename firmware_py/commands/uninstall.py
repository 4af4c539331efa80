"""``spurlock uninstall``: takes the appliance off the machine; the owner's data stay."""

from __future__ import annotations

import argparse
import sys
from pathlib import PurePosixPath as Place
from typing import TYPE_CHECKING

from firmware_py.commands.install import DONE, REFUSED, add_doing
from firmware_py.install.doing import do
from firmware_py.install.errors import InstallError
from firmware_py.install.files import File
from firmware_py.install.machine import Machine
from firmware_py.install.places import ALL_UNITS, DATA, UNITS
from firmware_py.install.planning import removing
from firmware_py.install.record import Installed
from firmware_py.install.steps import told
from firmware_py.install.upgrading import installed

if TYPE_CHECKING:
    Subparsers = argparse._SubParsersAction[argparse.ArgumentParser]

DESCRIPTION = """\
Stop the services, and remove all that "spurlock install" has written. Layout,
logbook and backups stay in /var/lib/spurlock unless --with-data is given; the
user "spurlock", whose they are, stays too.

Without --for-real nothing is changed: what would be removed is shown.
"""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command to the console script's parser."""
    parser = subparsers.add_parser(
        "uninstall",
        help="take the appliance off the machine; its data stay",
        description=DESCRIPTION,
        epilog="example:\n  sudo spurlock uninstall --for-real",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument(
        "--with-data", action="store_true", help="remove layout, logbook and backups as well"
    )
    add_doing(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command; the answer is the exit status."""
    try:
        return uninstall(args, Machine(args.root))
    except InstallError as error:
        print(error, file=sys.stderr)
        return REFUSED


def uninstall(args: argparse.Namespace, machine: Machine) -> int:
    """Remove it, or show what that would be. Raises ``InstallError``."""
    was = installed(machine)
    steps = removing(was, _boot(machine, was), data=args.with_data, extra=_changes(machine))
    if not args.for_real:
        for step in steps:
            print("\n".join(told(step)))
        print("\nNothing was changed. To do it, say the same with --for-real.")
        return DONE
    if machine.live and not machine.rights:
        raise InstallError("this needs root's rights: put sudo in front of the same command")
    do(machine, steps)
    print("Spurlock is removed." if args.with_data else f"Spurlock is removed; {DATA} stays.")
    return DONE


def _boot(machine: Machine, was: Installed) -> File | None:
    if was.boot is None or not (path := machine.at(Place(was.boot))).is_file():
        return None
    return File(Place(was.boot), path.read_text("utf-8", "surrogateescape"), 0o755)


def _changes(machine: Machine) -> list[Place]:
    """Folders in which somebody has changed our units (systemd.unit(5)); without them, no use."""
    places = [UNITS / f"{name}.d" for name in ALL_UNITS]
    return [place for place in places if machine.at(place).exists()]

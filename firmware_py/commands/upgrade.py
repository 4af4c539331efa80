"""``spurlock upgrade``: a newer release, tried for a minute and taken back if it is not well."""

from __future__ import annotations

import argparse
import sys
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from firmware_py.commands.install import DONE, REFUSED, UNWELL, add_doing
from firmware_py.install.errors import InstallError
from firmware_py.install.machine import Machine
from firmware_py.install.places import BACKUPS, CURRENT, RELEASES, TARGET_UNIT
from firmware_py.install.upgrading import Upgrade, installed

if TYPE_CHECKING:
    Subparsers = argparse._SubParsersAction[argparse.ArgumentParser]

DESCRIPTION = """\
Put the Spurlock in a folder of wheels in the place of the installed one. It is
built while the old one guards; then the services stop, layout and logbook are
copied, and the new one starts. If it is not well within a minute, the old one
is put back, with its logbook if the new one has changed that.

Do it between sessions. Without --for-real nothing is changed.
"""

EXAMPLES = """\
example:
  sudo spurlock upgrade --wheels /media/stick/wheels --for-real
"""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command to the console script's parser."""
    parser = subparsers.add_parser(
        "upgrade",
        help="put a newer release in place, and take it back if it is not well",
        description=DESCRIPTION,
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument(
        "--wheels",
        metavar="FOLDER",
        type=Path,
        required=True,
        help='the newer Spurlock and its libraries, as "spurlock wheels" makes it',
    )
    add_doing(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command; the answer is the exit status: 1 if the old release was put back."""
    try:
        return upgrade(args, Machine(args.root))
    except InstallError as error:
        print(error, file=sys.stderr)
        return REFUSED


def upgrade(args: argparse.Namespace, machine: Machine) -> int:
    """Upgrade, or show what that would be. Raises ``InstallError``."""
    doing = Upgrade(machine, args.wheels, lambda text: print(text, flush=True))
    was = installed(machine)
    becomes = doing.becomes(was)
    if not args.for_real:
        print(f"software {RELEASES / becomes.release}  (Spurlock {becomes.version})")
        print(f"run      systemctl stop {TARGET_UNIT}")
        print(f"copy     layout and logbook into {BACKUPS}/before-upgrade-...")
        print(f"files    those of Spurlock {becomes.version} in the place of {was.version}'s:")
        print("\n".join(f"         {path}" for path in was.files))
        print(f"link     {CURRENT} -> {RELEASES / becomes.release}")
        print(f"run      systemctl start {TARGET_UNIT}")
        print(f"         and back to {was.version} if it is not well within a minute")
        print("\nNothing was changed. To do it, say the same with --for-real.")
        return DONE
    if machine.live and not machine.rights:
        raise InstallError("this needs root's rights: put sudo in front of the same command")
    return DONE if doing.run(datetime.now()) else UNWELL

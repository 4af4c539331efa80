"""The engine as a process of its own; ``spurlock run`` starts it."""

from __future__ import annotations

import argparse
import gc
import signal
import sys
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING

from firmware_py.engine.wires import take_wires
from firmware_py.health.notifying import Notifier
from firmware_py.layout.errors import LayoutError
from firmware_py.pins.wiring import PinsError

if TYPE_CHECKING:
    from firmware_py.demo.crew import Crews
    from firmware_py.engine.assembly import Plant

UNREADABLE = 2
HANDS_OVER_AFTER_S = 0.0005
"""A thread that works at the log gives way to a contact's after so long; Python's own is 5 ms."""
HEADER_WITHIN_S = 10.0
"""A box that boots may begin before its pins are handed out."""


def main(argv: list[str] | None = None) -> int:
    """Run an engine until SIGTERM or SIGINT; answers the exit status."""
    args = _parser().parse_args(argv)
    sys.setswitchinterval(HANDS_OVER_AFTER_S)
    gc.disable()  # Until the engine has settled: to look again and again at what loads costs time.
    notifier = Notifier()
    within_s = HEADER_WITHIN_S if notifier.heard else 0.0
    try:
        wires = take_wires(args.layout, simulated=args.simulated, header_within_s=within_s)
    except (LayoutError, PinsError, OSError) as error:
        print(error, file=sys.stderr)
        return UNREADABLE
    # From here on red is lit. What is loaded now takes longer than all before.
    from firmware_py.engine.assembly import Plant, Settings  # noqa: PLC0415
    from firmware_py.logbook.errors import LogbookError  # noqa: PLC0415

    settings = Settings(
        args.layout, args.logbook, args.simulated, args.seed, args.minutes, args.opened
    )
    try:
        plant = Plant(settings, notifier, wires)
    except (LogbookError, OSError) as error:
        print(error, file=sys.stderr)
        return UNREADABLE
    crews = _crews(plant, args) if args.crew else None

    def stop(_signal: int, _frame: FrameType | None) -> None:
        plant.stop()

    signal.signal(signal.SIGTERM, stop)
    signal.signal(signal.SIGINT, stop)
    if crews is not None:
        crews.start()
    try:
        plant.run()
    finally:
        if crews is not None:
            crews.stop()
    return 0


def _crews(plant: Plant, args: argparse.Namespace) -> Crews:
    from firmware_py.demo.crew import Crews  # noqa: PLC0415 - no box but the demo has any

    return Crews(plant, seed=args.seed, pace=args.pace)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m firmware_py.service.engine_process", description=__doc__
    )
    parser.add_argument("--layout", type=Path, required=True)
    parser.add_argument("--logbook", required=True)
    parser.add_argument("--simulated", action="store_true")
    parser.add_argument("--crew", action="store_true", help="let a scripted crew work")
    parser.add_argument("--pace", type=float, default=1.0, help="the crew's haste; 1 is human")
    parser.add_argument("--seed", type=int, default=None)
    parser.add_argument("--opened", action="store_true", help="begin with a session for work")
    parser.add_argument("--minutes", type=float, default=None, help="end the session after these")
    return parser


if __name__ == "__main__":
    sys.exit(main())

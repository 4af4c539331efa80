"""The board host's gatherer as a process of its own; ``spurlock board`` starts it."""

from __future__ import annotations

import argparse
import json
import logging
import os
import sys
import time
from collections.abc import Callable
from pathlib import Path

from sqlalchemy import Engine
from sqlalchemy.exc import OperationalError

from firmware_py.club.credentials import ClubError
from firmware_py.club.link import Link
from firmware_py.club.topics import EVERYTHING_SAID
from firmware_py.gathering.board_file import BoardFile, read_board
from firmware_py.gathering.gatherer import Gatherer
from firmware_py.gathering.names import FITS_SETTING
from firmware_py.health.record import GathererHealth, boot_id, now_us, path_of
from firmware_py.layout.errors import LayoutError
from firmware_py.logbook.errors import LogbookError
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.screen.settings import change
from firmware_py.logbook.writing import wall_now_us
from firmware_py.service.telling import Telling
from firmware_py.service.told import listen_for_stop

log = logging.getLogger(__name__)

UNREADABLE = 2
AGAIN_AFTER_S = 0.2
DATABASE_WITHIN_S = 20.0


def main(argv: list[str] | None = None) -> int:
    """Gather until SIGTERM or SIGINT; answers the exit status."""
    args = _parser().parse_args(argv)
    logging.basicConfig(level=logging.WARNING, format="board: %(message)s")
    try:
        return _gather(read_board(args.board))
    except (LayoutError, LogbookError, ClubError) as error:
        print(error, file=sys.stderr)
        return UNREADABLE


def _gather(board: BoardFile) -> int:
    told = listen_for_stop()
    link = Link(board.broker(), [EVERYTHING_SAID])
    engine = _opened(board, told)
    gatherer = Gatherer(board.name, board.title, engine, link, wall_us=wall_now_us)
    telling = Telling(path_of(board.database, GathererHealth))

    def stopped() -> bool:
        telling.tell(lambda: _health(board.name, gatherer, link))
        return told()

    link.start()
    try:
        gatherer.run(stopped)
        telling.stopping()
    finally:
        link.stop()
        engine.dispose()
    return 0


def _opened(board: BoardFile, told: Callable[[], bool]) -> Engine:
    """The board's database; a server that is away, as while both boot, is waited for.

    Raises ``LogbookError``, for a server only once it was away for ``DATABASE_WITHIN_S``.
    """
    until_s = time.monotonic() + DATABASE_WITHIN_S
    said = False
    while True:
        try:
            engine = open_engine(board.database)
            change(engine, FITS_SETTING, json.dumps(board.fits))
        except LogbookError as trouble:
            away = isinstance(trouble.__cause__, OperationalError)
            if not away or told() or time.monotonic() >= until_s:
                raise
            if not said:
                log.warning("waits for its database: %s", trouble)
            said = True
            time.sleep(AGAIN_AFTER_S)
        else:
            return engine


def _health(board: str, gatherer: Gatherer, link: Link) -> GathererHealth:
    return GathererHealth(
        os.getpid(),
        boot_id(),
        now_us(),
        board,
        trouble=None if link.ready else link.trouble,
        database=gatherer.trouble,
        boxes={name: str(word) for name, word in gatherer.fares().items()},
    )


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m firmware_py.service.gathering_process", description=__doc__
    )
    parser.add_argument("--board", type=Path, required=True, metavar="FILE")
    return parser


if __name__ == "__main__":
    sys.exit(main())

"""A gatherer whose database is away as it starts."""

from __future__ import annotations

import threading
from pathlib import Path

import pytest

from club.board_host import BoardHost
from club.machines import database_in
from firmware_py.gathering.board_file import BoardFile, read_board
from firmware_py.logbook.errors import LogbookError
from firmware_py.service import gathering_process

BOARD = """\
[board]
name = "board"
title = "Vale club"
broker = "127.0.0.1:1"
credentials = "board.credentials"
tls = false
logbook = "{url}"
"""


def board_file(folder: Path, url: str) -> BoardFile:
    secret = folder / "board.credentials"
    secret.touch(mode=0o600)
    secret.write_text('password = "x"\n')
    path = folder / "board.toml"
    path.write_text(BOARD.format(url=url))
    return read_board(path)


def test_it_waits_for_a_server_that_comes_while_both_boot(
    own: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    server = database_in(own / "database")
    server.start()
    url = server.database("board")
    BoardHost(url, None).close()  # type: ignore[arg-type]  # It needs no broker to make its tables.
    board = board_file(own, url)
    server.stop()
    monkeypatch.setattr(gathering_process, "DATABASE_WITHIN_S", 60.0)
    late = threading.Timer(0.5, server.start)
    late.start()
    try:
        gathering_process._opened(board, lambda: False).dispose()
    finally:
        late.join()
        server.stop()


def test_it_does_not_wait_for_ever_nor_once_it_is_told_to_stop(
    own: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    board = board_file(own, "postgresql+psycopg://nobody:x@127.0.0.1:9/board")
    with pytest.raises(LogbookError, match=r"127\.0\.0\.1"):
        gathering_process._opened(board, lambda: True)
    monkeypatch.setattr(gathering_process, "DATABASE_WITHIN_S", 0.0)
    with pytest.raises(LogbookError, match=r"127\.0\.0\.1"):
        gathering_process._opened(board, lambda: False)

"""A box of a club, and a board host: installed, renewed and removed in a throw-away root."""

from __future__ import annotations

import io
import stat
from collections.abc import Callable, Sequence
from datetime import datetime
from pathlib import Path

import pytest
from service.processes import until

from firmware_py.commands.main import parser
from firmware_py.health.record import CourierHealth, path_of
from firmware_py.health.record import read as read_health
from firmware_py.install import doing
from firmware_py.install.errors import InstallError
from firmware_py.install.machine import Machine
from firmware_py.install.places import (
    BOARD,
    COURIER_UNIT,
    DATA,
    ENGINE_UNIT,
    GATHERER_UNIT,
    LAYOUT,
    LOGBOOK,
    SCREEN_UNIT,
    TARGET_UNIT,
    UNITS,
    Box,
    Club,
)
from firmware_py.install.planning import Wish, installing
from firmware_py.install.proving import Sign, look, prove
from firmware_py.install.record import read
from firmware_py.install.steps import Step
from firmware_py.install.upgrading import Upgrade
from firmware_py.logbook.opening import open_to_read
from firmware_py.logbook.screen.pin import is_pin
from firmware_py.service.starting import free_port
from install.install_machine import LAYOUT as PLAIN
from install.install_machine import SPURLOCK, Played, Root, builder

NOW = datetime(2031, 4, 7, 12, 30)
GENEROUS_S = 90.0
SECRET = "gorse-and-heather"
NODE = """
[node]
name = "quarry"
broker = "127.0.0.1:1"
credentials = "quarry.credentials"
"""
BOARD_FILE = """
[board]
name = "board"
title = "Vale club"
broker = "127.0.0.1:1"
credentials = "board.credentials"
tls = false
"""
COURIER_FALLS = SPURLOCK.replace(
    "sys.exit", "'courier' in sys.argv and sys.exit('no courier')\nsys.exit", 1
)


@pytest.fixture
def own(tmp_path: Path) -> Path:
    """The owner's folder, with passwords in it."""
    folder = tmp_path / "owner"
    folder.mkdir()
    for name in ("quarry", "board"):
        secret = folder / f"{name}.credentials"
        secret.touch(mode=0o600)
        secret.write_text(f'password = "{SECRET}"\n')
    return folder


@pytest.fixture
def layout(own: Path) -> Path:
    path = own / "quarry.toml"
    path.write_text(PLAIN.read_text() + NODE)
    return path


@pytest.fixture
def board(own: Path) -> Path:
    path = own / "club.toml"
    path.write_text(BOARD_FILE)
    return path


@pytest.fixture(autouse=True)
def without_pip(monkeypatch: pytest.MonkeyPatch) -> None:
    def build_here(machine: Machine, steps: Sequence[Step]) -> None:
        doing.do(machine, steps, builder())

    monkeypatch.setattr("firmware_py.commands.install.do", build_here)


def spurlock(root: Root, *words: object) -> int:
    """Run a command on the root."""
    given = [str(word) for word in words] + ["--root", str(root.folder)]
    if words[0] == "install":
        given += ["--wheels", str(root.wheels)]
    args = parser(str(words[0])).parse_args(given)
    status: int = args.run(args)
    return status


def mode_of(root: Root, name: str) -> int:
    return stat.S_IMODE((root.folder / str(DATA / name)[1:]).stat().st_mode)


def test_a_dry_run_shows_the_courier_and_never_the_password(
    root: Root, layout: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = root.everything()
    assert spurlock(root, "install", layout) == 0
    assert root.everything() == before
    said = capsys.readouterr().out
    assert f"file     {UNITS / COURIER_UNIT}" in said
    assert f"copy     {DATA / 'quarry.credentials'}  (mode 600" in said
    assert SECRET not in said


def test_a_box_with_a_node_is_given_a_courier_and_what_it_needs(root: Root, layout: Path) -> None:
    layout.write_text(layout.read_text() + 'ca = "club.pem"\n')
    (layout.parent / "club.pem").write_text("an authority\n")
    assert spurlock(root, "install", layout, "--for-real", "--no-pin") == 0
    assert SECRET in root.read(DATA / "quarry.credentials")
    assert mode_of(root, "quarry.credentials") == 0o600
    assert root.read(DATA / "club.pem") == "an authority\n"
    assert COURIER_UNIT in root.read(UNITS / TARGET_UNIT)
    assert "--part courier" in root.read(UNITS / COURIER_UNIT)
    record = read(root.folder)
    assert record is not None
    assert record.box.club == Club("127.0.0.1", "quarry.credentials", "club.pem")
    root.put(f"etc/systemd/system/{COURIER_UNIT}.d/more.conf", "[Service]\nNice=5\n")
    assert spurlock(root, "uninstall", "--for-real") == 0
    assert not any("spurlock" in name for name in root.everything() if name.startswith("etc/"))
    assert root.has(DATA / "quarry.credentials")
    assert spurlock(root, "install", layout, "--for-real", "--no-pin") == 0
    assert spurlock(root, "uninstall", "--with-data", "--for-real") == 0
    assert not root.has(DATA)


def refused(root: Root, said: pytest.CaptureFixture[str], *words: object) -> str:
    before = root.everything()
    assert spurlock(root, "install", "--for-real", "--no-pin", *words) == 2
    assert root.everything() == before
    return said.readouterr().err


def test_a_box_whose_password_can_not_be_used_is_refused(
    root: Root, layout: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    secret = layout.parent / "quarry.credentials"
    secret.chmod(0o640)
    assert "others can read it; run: chmod 600" in refused(root, capsys, layout)
    secret.unlink()
    assert "there is no such file; make it" in refused(root, capsys, layout)
    text = layout.read_text()
    layout.write_text(text.replace('"quarry.credentials"', '"/home/crew/quarry.credentials"'))
    assert "keep it beside the layout" in refused(root, capsys, layout)
    secret.touch(mode=0o600)
    secret.write_text('password = "x"\n')
    layout.write_text(text + 'ca = "/home/crew/club.pem"\n')
    assert "can't see /home/crew/club.pem" in refused(root, capsys, layout)


def test_a_board_host(root: Root, board: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before = root.everything()
    monkeypatch.setattr("sys.stdin", io.StringIO("4711\n"))
    root.put("proc/device-tree/model", "Some computer\0")  # It has no pins to miss.
    assert spurlock(root, "install", "--board", board, "--for-real") == 0
    assert root.read(BOARD) == BOARD_FILE
    assert mode_of(root, "board.toml") == 0o600
    assert SECRET in root.read(DATA / "board.credentials")
    assert root.has(UNITS / GATHERER_UNIT)
    assert not root.has(UNITS / ENGINE_UNIT)
    assert f"spurlock board {BOARD} --part screen" in root.read(UNITS / SCREEN_UNIT)
    assert root.read("boot/firmware/config.txt") == before["boot/firmware/config.txt"].decode()  # type: ignore[union-attr] # A file, no link.
    database = open_to_read(str(root.folder / str(DATA / "board.sqlite")[1:]))
    try:
        assert is_pin(database, "4711")
    finally:
        database.dispose()
    assert spurlock(root, "uninstall", "--for-real") == 0
    assert not any("spurlock" in name for name in root.everything() if name.startswith("etc/"))
    assert root.has(DATA / "board.sqlite")


@pytest.mark.parametrize(
    ("logbook", "says"),
    [
        ("postgresql+psycopg:///spurlock", "pip download 'psycopg[binary]'"),
        ("postgresql+psycopg://db.local/spurlock", "reach no database at db.local"),
        ("/srv/board.sqlite", "is no name of a file"),
        ("sqlite:////srv/board.sqlite", "write a name alone"),
    ],
)
def test_a_board_whose_database_would_not_do(
    root: Root, board: Path, logbook: str, says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    board.write_text(BOARD_FILE + f'logbook = "{logbook}"\n')
    assert says in refused(root, capsys, "--board", board)


def test_a_board_on_postgresql_has_its_pin_set_afterwards(
    root: Root, board: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    url = "postgresql+psycopg:///spurlock"
    board.write_text(BOARD_FILE + f'logbook = "{url}"\n')
    (root.wheels / "psycopg-3.2.1-py3-none-any.whl").touch()
    assert spurlock(root, "install", "--board", board, "--for-real") == 0
    assert f"sudo -u spurlock spurlock pin {url}" in capsys.readouterr().out


def test_a_layout_or_a_board_and_not_both(
    root: Root, layout: Path, board: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert "one of the two" in refused(root, capsys, layout, "--board", board)
    assert "one of the two" in refused(root, capsys)


# Services that really run.


def patient(seen: Callable[[], Sign]) -> str | None:
    return prove(seen, within_s=GENEROUS_S, stays_s=1.0)


def courier_fails(seen: Callable[[], Sign]) -> str | None:
    """Whatever else takes its time to begin: what is said of the courier."""
    until(lambda: "courier" in seen().amiss)
    return seen().amiss


def begun(root: Root, machine: Played, box: Box, path: Path) -> Box:
    wish = Wish(box, root.wheels, "0.1.0", path.read_text(), folder=path.parent)
    doing.do(machine, installing(wish), builder())
    assert patient(lambda: look(machine, box)) is None
    return box


def a_box(root: Root, machine: Played, layout: Path) -> Box:
    club = Club("127.0.0.1", "quarry.credentials")
    return begun(root, machine, Box(port=free_port("127.0.0.1", 0), club=club), layout)


def courier_of(machine: Played) -> CourierHealth | None:
    return read_health(path_of(str(machine.at(LOGBOOK)), CourierHealth), CourierHealth)


@pytest.mark.timeout(240)
def test_a_boxs_upgrade_looks_at_its_courier_as_well(
    root: Root, machine: Played, layout: Path
) -> None:
    box, said = a_box(root, machine, layout), []
    sign = look(machine, box)
    found = courier_of(machine)
    assert found is not None
    assert (found.node, found.pid) == ("quarry", sign.courier)
    assert "127.0.0.1:1 can't be reached" in (found.trouble or "")  # Nobody listens there.
    root.offer("0.2.0")
    proofs = iter([courier_fails, patient])

    def proof(seen: Callable[[], Sign]) -> str | None:
        return next(proofs)(seen)

    falls = Upgrade(machine, root.wheels, said.append, builder(COURIER_FALLS), proof)
    assert not falls.run(NOW)
    assert any("0.2.0 is not well: the courier has not said anything" in line for line in said)
    assert said[-1] == "0.1.0 guards again."
    # A layout that has left the club since: its courier goes with the next upgrade.
    machine.at(LAYOUT).write_text(PLAIN.read_text())
    assert Upgrade(machine, root.wheels, said.append, builder(), patient).run(NOW.replace(hour=13))
    assert not root.has(UNITS / COURIER_UNIT)
    record = read(root.folder)
    assert record is not None
    assert record.box.club is None
    assert str(UNITS / COURIER_UNIT) not in record.files


def test_a_layout_that_has_joined_a_club_is_given_its_courier_by_an_upgrade(
    root: Root, own: Path
) -> None:
    assert spurlock(root, "install", PLAIN, "--for-real", "--no-pin") == 0
    root.put(str(LAYOUT)[1:], PLAIN.read_text() + NODE)
    root.offer("0.2.0")
    doing = Upgrade(Machine(root.folder), root.wheels, print, builder(), patient)
    with pytest.raises(InstallError, match=r"no such file.*\n.*files belong in /var/lib/spurlock"):
        doing.run(NOW)
    secret = root.put("var/lib/spurlock/quarry.credentials", f'password = "{SECRET}"\n')
    secret.chmod(0o600)
    assert doing.run(NOW)
    assert root.has(UNITS / COURIER_UNIT)
    assert COURIER_UNIT in root.read(UNITS / TARGET_UNIT)
    assert own.exists()


@pytest.mark.timeout(240)
def test_a_board_host_runs_and_is_renewed(root: Root, machine: Played, board: Path) -> None:
    club = Club("127.0.0.1", "board.credentials")
    box = Box(port=free_port("127.0.0.1", 0), club=club, logbook="board.sqlite")
    begun(root, machine, box, board)
    said: list[str] = []
    root.offer("0.2.0")
    assert Upgrade(machine, root.wheels, said.append, builder(), patient).run(NOW)
    assert said[-1] == "0.2.0 is well, and is kept."
    saved = machine.at(DATA / "backups" / "before-upgrade-2031-04-07-123000")
    assert {path.name for path in saved.iterdir()} == {"board.toml", "board.sqlite"}
    (gatherer, _screen) = machine.running
    gatherer.kill()
    until(lambda: look(machine, box).amiss == "the gatherer has fallen silent")


def test_one_whose_courier_keeps_falling_is_not_well() -> None:
    signs = iter(range(10_000))
    clock = [0.0]

    def seen() -> Sign:
        return Sign(7, courier=next(signs) // 4)

    def sleep(seconds: float) -> None:
        clock[0] += seconds

    verdict = prove(seen, clock=lambda: clock[0], sleep=sleep)
    assert verdict == "the courier keeps being started anew"

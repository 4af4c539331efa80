"""Installing and removing in a throw-away root: the commands themselves, but for pip."""

from __future__ import annotations

import io
import socket
from collections.abc import Sequence
from pathlib import Path

import pytest

from firmware_py.commands.main import parser
from firmware_py.install import doing
from firmware_py.install.errors import InstallError
from firmware_py.install.files import AUTOSTART, JOURNAL, MANAGER, SYSUSERS
from firmware_py.install.machine import Machine
from firmware_py.install.places import COURIER_UNIT, LOGBOOK, RECORD, UNITS, Box
from firmware_py.install.places import LAYOUT as INSTALLED_LAYOUT
from firmware_py.install.planning import ENABLED
from firmware_py.install.record import read
from firmware_py.install.refusing import Facts, refusals
from firmware_py.install.steps import Step
from firmware_py.install.units import units
from firmware_py.logbook.opening import open_to_read
from firmware_py.logbook.screen.pin import is_pin
from install.install_machine import LAYOUT, Root, builder

CONFIG = "boot/firmware/config.txt"
WELL = Facts(
    rights=True,
    model="Raspberry Pi 4 Model B Rev 1.4",
    wide=True,
    listening=None,
    installed=None,
    units=(),
    pinless=(),
)


@pytest.fixture(autouse=True)
def without_pip(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("firmware_py.commands.install.do", _do)


def _do(machine: Machine, steps: Sequence[Step]) -> None:
    doing.do(machine, steps, builder())


def spurlock(root: Root, *words: str, layout: Path = LAYOUT) -> int:
    """Run a command on the root."""
    given = [*words, "--root", str(root.folder)]
    if words[0] == "install":
        given += [str(layout), "--wheels", str(root.wheels)]
    args = parser(words[0]).parse_args(given)
    status: int = args.run(args)
    return status


def installs(root: Root, *words: str, layout: Path = LAYOUT) -> None:
    assert spurlock(root, "install", "--for-real", "--no-pin", *words, layout=layout) == 0


def test_a_dry_run_shows_every_file_and_writes_none(
    root: Root, capsys: pytest.CaptureFixture[str]
) -> None:
    before = root.everything()
    assert spurlock(root, "install", "--wall-screen") == 0
    assert root.everything() == before
    said = capsys.readouterr().out
    shown = {line.split()[1] for line in said.splitlines() if line.startswith("file ")}
    installs(root, "--wall-screen")
    written = {f"/{name}" for name, what in root.everything().items() if isinstance(what, bytes)}
    new = {name for name in written if name.removeprefix("/") not in before}
    assert {name for name in new if "/releases/" not in name} == shown - {f"/{CONFIG}"}
    assert "         | NoNewPrivileges=yes" in said


def test_what_is_installed(root: Root, capsys: pytest.CaptureFixture[str]) -> None:
    installs(root, "--host", "0.0.0.0", "--port", "8090")
    for place in (SYSUSERS, JOURNAL, MANAGER, *(UNITS / name for name in units(Box()))):
        assert root.has(place)
    assert not root.has(UNITS / COURIER_UNIT)
    assert not root.has(AUTOSTART)
    assert root.read(INSTALLED_LAYOUT) == LAYOUT.read_text()
    assert root.folder.joinpath(str(ENABLED)[1:]).readlink() == Path(UNITS / "spurlock.target")
    assert root.folder.joinpath("usr/local/bin/spurlock").readlink() == Path(
        "/opt/spurlock/current/bin/spurlock"
    )
    config = root.read(CONFIG)
    assert config.startswith("# For more options")
    assert config.index("[all]") < config.index("dtparam=strict_gpiod")
    record = read(root.folder)
    assert record is not None
    assert (record.version, record.release, record.port) == ("0.1.0", "0.1.0", 8090)
    assert "It starts when that system does" in capsys.readouterr().out


def test_the_pin_is_set(root: Root, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO("4711\n"))
    assert spurlock(root, "install", "--for-real") == 0
    logbook = root.folder / str(LOGBOOK)[1:]
    database = open_to_read(str(logbook))
    try:
        assert is_pin(database, "4711")
    finally:
        database.dispose()
    assert logbook.stat().st_mode & 0o077 == 0


def test_a_bad_pin_leaves_nothing_installed(
    root: Root, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    before = root.everything()
    monkeypatch.setattr("sys.stdin", io.StringIO("1\n"))
    assert spurlock(root, "install", "--for-real") == 2
    assert "a PIN has 4 to 64 characters" in capsys.readouterr().err
    after = root.everything()
    assert {name for name in after if not name.startswith("var/lib/spurlock/")} == set(before)


def test_removing_leaves_what_was_there_and_the_owners_data(root: Root) -> None:
    before = root.everything()
    installs(root, "--wall-screen")
    root.put("etc/systemd/system/spurlock-engine.service.d/more.conf", "[Service]\nNice=-5\n")
    (root.folder / str(LOGBOOK)[1:]).write_bytes(b"entries")
    assert spurlock(root, "uninstall") == 0
    assert root.has(RECORD)
    assert spurlock(root, "uninstall", "--for-real") == 0
    after = root.everything()
    kept = {name: what for name, what in after.items() if name.startswith("var/lib/spurlock/")}
    assert set(kept) == {"var/lib/spurlock/layout.toml", "var/lib/spurlock/layout.sqlite"}
    assert {name: what for name, what in after.items() if name not in kept} == before


def test_removing_the_data_as_well(root: Root) -> None:
    before = root.everything()
    installs(root)
    assert spurlock(root, "uninstall", "--with-data", "--for-real") == 0
    assert root.everything() == before


def test_installing_again_keeps_the_logbook_and_an_earlier_layout(root: Root) -> None:
    installs(root)
    (root.folder / str(LOGBOOK)[1:]).write_bytes(b"entries")
    assert spurlock(root, "uninstall", "--for-real") == 0
    other = root.put("../other.toml", LAYOUT.read_text() + "\n# Changed.\n")
    installs(root, layout=other)
    assert root.read(INSTALLED_LAYOUT) == other.read_text()
    assert root.read("var/lib/spurlock/layout-earlier-1.toml") == LAYOUT.read_text()
    assert root.read(LOGBOOK) == "entries"


def test_a_release_that_can_not_be_built_leaves_nothing(
    root: Root, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def fails(machine: Machine, steps: Sequence[Step]) -> None:
        def build(*_: object) -> None:
            raise InstallError("pip install ...: it failed: no gevent")

        doing.do(machine, steps, build)

    monkeypatch.setattr("firmware_py.commands.install.do", fails)
    before = root.everything()
    assert spurlock(root, "install", "--for-real", "--no-pin") == 2
    assert root.everything() == before
    assert "no gevent\nNothing was left installed." in capsys.readouterr().err


# Refusals.


def refused(root: Root, said: pytest.CaptureFixture[str], *words: str, **more: Path) -> str:
    """See that nothing is done; what is said instead."""
    before = root.everything()
    assert spurlock(root, "install", "--for-real", "--no-pin", *words, **more) == 2
    assert root.everything() == before
    return said.readouterr().err


def test_no_layout(root: Root, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    absent = tmp_path / "absent.toml"
    said = refused(root, capsys, layout=absent)
    assert said == f"{absent}: there is no such layout file; spurlock new writes one\n"


def test_a_broken_layout(root: Root, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    broken = tmp_path / "broken.toml"
    broken.write_text("[layout")
    assert "broken.toml" in refused(root, capsys, layout=broken)


def test_wires_without_a_pin(
    root: Root, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    layout = tmp_path / "unplanned.toml"
    layout.write_text(LAYOUT.read_text().replace("hook = 4", 'hook = "auto"'))
    said = refused(root, capsys, layout=layout)
    assert "kiln-key.hook; spurlock plan gives them pins" in said


def test_no_pi(root: Root, capsys: pytest.CaptureFixture[str]) -> None:
    root.put("proc/device-tree/model", "Some Board\0")
    said = refused(root, capsys)
    assert "this machine is no Raspberry Pi (it calls itself 'Some Board')" in said
    installs(root, "--any-machine")


def test_a_port_that_is_taken(root: Root, capsys: pytest.CaptureFixture[str]) -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        said = refused(root, capsys, "--port", str(port))
    assert f"port {port} is taken" in said
    assert "choose another with --port" in said


def test_a_service_that_is_there_already(root: Root, capsys: pytest.CaptureFixture[str]) -> None:
    unit = root.put("etc/systemd/system/spurlock-engine.service", "[Service]\n")
    assert "not made by this command: remove /etc/systemd" in refused(root, capsys)
    unit.unlink()
    installs(root)
    capsys.readouterr()
    assert "Spurlock 0.1.0 is installed here already" in refused(root, capsys)


def test_no_wheels(root: Root, capsys: pytest.CaptureFixture[str]) -> None:
    next(root.wheels.iterdir()).unlink()
    assert "no folder with Spurlock's wheels" in refused(root, capsys)
    (root.wheels / "spurlock-1.0-py3-none-any.whl").touch()
    (root.wheels / "spurlock-1.1-py3-none-any.whl").touch()
    assert "it has Spurlock 1.0, 1.1; keep the one" in refused(root, capsys)


@pytest.mark.parametrize(
    ("facts", "box", "words"),
    [
        ({"rights": False}, Box(), "put sudo in front"),
        ({"wide": False}, Box(), "64-bit Raspberry Pi OS"),
        ({"model": ""}, Box(), "it does not say what"),
        ({}, Box(port=80), "choose one from 1024 on"),
        ({"spi": False}, Box(buses=("i2c", "spi")), "pip wheel --no-deps spidev"),
        ({"listening": "--host pi.local: Name not known"}, Box(), "Name not known"),
    ],
    ids=["rights", "32-bit", "unknown", "low-port", "spidev", "host"],
)
def test_other_refusals(facts: dict[str, object], box: Box, words: str) -> None:
    changed = {name: getattr(WELL, name) for name in Facts.__slots__} | facts
    said = list(refusals(Facts(**changed), box))  # type: ignore[arg-type]
    assert len(said) == 1
    assert words in said[0]


def test_a_machine_that_will_do() -> None:
    assert list(refusals(WELL, Box())) == []


def test_nothing_to_remove(root: Root, capsys: pytest.CaptureFixture[str]) -> None:
    assert spurlock(root, "uninstall", "--for-real") == 2
    assert "not installed here" in capsys.readouterr().err

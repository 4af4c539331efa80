"""``spurlock plan`` and the electrical part of ``spurlock check``, through the console script."""

from __future__ import annotations

import re
import stat
from pathlib import Path

import pytest
from pytest_mock import MockerFixture

import firmware_py
from firmware_py.commands import plan as plan_command
from firmware_py.commands.main import main
from firmware_py.layout.electrics import ChipKind
from firmware_py.layout.reading import read_layout
from firmware_py.wiring.wires import wires_of

DEMO = Path(firmware_py.__file__).parent / "demo" / "layouts" / "wendlebeck.toml"

SMALL = """\
[layout]
name = "Pit"

[[switch]]   # the only one
id = "pit-switch"
contacts = { hasp = "auto", normal = "auto", reverse = 16 }
lamps = { green = "auto", red = "auto" }
bolt = "auto"
"""


@pytest.fixture
def small(tmp_path: Path) -> Path:
    path = tmp_path / "pit.toml"
    path.write_text(SMALL, encoding="utf-8")
    return path


@pytest.fixture
def bare_demo(tmp_path: Path) -> Path:
    """The demo's valley before anything was wired."""
    text = DEMO.read_text(encoding="utf-8")
    text = re.sub(r'"stand-[a-f]:\d+"', '"auto"', text)
    text = text.partition("# --- The expanders")[0]
    path = tmp_path / "valley.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_dry_run_shows_the_plan_and_writes_nothing(
    small: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["plan", str(small)]) == 0
    out = capsys.readouterr().out
    assert "Pit: 5 wires get a pin, 1 keep theirs" in out
    assert re.search(r"GPIO 16 +kept  pit-switch\.reverse", out)
    assert re.search(r"GPIO \d+ +new   bolt of pit-switch", out)
    assert "red lamps (1): resistor, straight on the pin: 470 ohm" in out
    assert f"spurlock plan {small} --write" in out
    assert small.read_text(encoding="utf-8") == SMALL
    assert list(small.parent.iterdir()) == [small]
    assert max(map(len, out.splitlines())) < 80 + len(str(small))


def test_writing_keeps_the_old_file_and_the_modes(small: Path) -> None:
    small.chmod(0o640)
    assert main(["plan", str(small), "--write"]) == 0
    assert small.with_name("pit.toml.bak").read_text(encoding="utf-8") == SMALL
    assert stat.S_IMODE(small.stat().st_mode) == 0o640
    assert {path.name for path in small.parent.iterdir()} == {"pit.toml", "pit.toml.bak"}
    assert all(wire.pin for wire in wires_of(read_layout(small)))
    assert "# the only one" in small.read_text(encoding="utf-8")


def test_a_second_write_has_nothing_to_do(small: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(["plan", str(small), "--write"])
    written = small.read_bytes()
    assert main(["plan", str(small), "--write"]) == 0
    assert "Every wire has a pin already" in capsys.readouterr().out
    assert small.read_bytes() == written
    assert small.with_name("pit.toml.bak").read_text(encoding="utf-8") == SMALL


def test_a_link_is_followed_and_stays_a_link(small: Path, tmp_path: Path) -> None:
    link = tmp_path / "link.toml"
    link.symlink_to(small)
    assert main(["plan", str(link), "--write"]) == 0
    assert link.is_symlink()
    assert '"auto"' not in small.read_text(encoding="utf-8")


@pytest.mark.parametrize(("kind", "chip"), [("i2c", ChipKind.MCP23017), ("spi", ChipKind.MCP23S17)])
def test_the_demos_valley_is_planned_with_either_chip(
    bare_demo: Path, kind: str, chip: ChipKind
) -> None:
    assert main(["plan", str(bare_demo), "--write", "--expanders", kind]) == 0
    layout = read_layout(bare_demo)
    assert layout.chips
    assert {one.kind for one in layout.chips} == {chip}
    assert all(wire.pin for wire in wires_of(layout))
    assert main(["check", str(bare_demo)]) == 0


def test_no_plan_says_why_and_writes_nothing(
    bare_demo: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = bare_demo.read_bytes()
    assert main(["plan", str(bare_demo), "--write", "--expanders", "none"]) == 1
    out = capsys.readouterr().out
    assert "no plan for the 68 wires without a pin" in out
    assert "--expanders i2c" in out
    assert bare_demo.read_bytes() == before
    assert len(list(bare_demo.parent.iterdir())) == 1


def test_the_model_changes_the_figures(small: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(["plan", str(small), "--model", "3"])
    three = capsys.readouterr().out
    main(["plan", str(small), "--model", "4"])
    four = capsys.readouterr().out
    assert "at most 8 mA" in three
    assert "at most 4 mA" in four
    assert 'assumed: pi = "4"' not in four
    main(["plan", str(small)])
    assert 'pi = "4"' in capsys.readouterr().out


def test_a_broken_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "broken.toml"
    path.write_text('[[chip]]\nid = "io-1"\nkind = "mcp23017"\n', encoding="utf-8")
    assert main(["plan", str(path), "--write"]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert "broken.toml:1: chip" in told.err
    assert main(["plan", str(tmp_path / "none.toml")]) == 2


def test_a_file_that_changes_meanwhile_is_left_alone(
    small: Path, mocker: MockerFixture, capsys: pytest.CaptureFixture[str]
) -> None:
    real = plan_command.shutil.copymode

    def meddle(*names: str) -> None:
        real(*names)
        small.write_text("# mine\n" + SMALL, encoding="utf-8")

    mocker.patch.object(plan_command.shutil, "copymode", meddle)
    assert main(["plan", str(small), "--write"]) == 2
    assert "changed meanwhile" in capsys.readouterr().err
    assert small.read_text(encoding="utf-8") == "# mine\n" + SMALL
    assert list(small.parent.iterdir()) == [small]


def test_a_disk_that_is_full_leaves_the_file(
    small: Path, mocker: MockerFixture, capsys: pytest.CaptureFixture[str]
) -> None:
    full = OSError(28, "No space left on device")
    mocker.patch.object(plan_command.os, "fsync", side_effect=full)
    assert main(["plan", str(small), "--write"]) == 2
    assert "nothing is changed: No space left" in capsys.readouterr().err
    assert small.read_text(encoding="utf-8") == SMALL
    assert list(small.parent.iterdir()) == [small]


def test_check_names_only_what_is_wrong_and_lists_all_when_asked(
    small: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["check", str(small)]) == 0
    assert "Electrical:" not in capsys.readouterr().out
    small.write_text(SMALL.replace("[[sw", "[wiring]\npull_up_ohm = 22000\n\n[[sw"))
    assert main(["check", str(small)]) == 0
    plain = capsys.readouterr().out
    assert "Electrical:" in plain
    assert "pull_up_ohm = 2200" in plain
    assert main(["check", str(small), "--electrical"]) == 0
    full = capsys.readouterr().out
    assert "WRONG: " in full
    assert "3.3 V / 22 kohm" in full


def test_a_serial_pin_is_only_given_when_the_console_is_off(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rows = "".join(
        f'[[switch]]\nid = "s{n}"\nlock = "none"\n'
        'contacts = { normal = "auto", reverse = "auto" }\n'
        for n in range(12)
    )
    path = tmp_path / "full.toml"
    path.write_text(rows, encoding="utf-8")
    assert main(["plan", str(path), "--expanders", "none"]) == 1
    path.write_text("[wiring]\nserial_console = false\n" + rows, encoding="utf-8")
    capsys.readouterr()
    assert main(["plan", str(path), "--expanders", "none", "--write"]) == 0
    assert "1 kohm in series" in capsys.readouterr().out
    assert main(["check", str(path)]) == 0
    assert "serial console" not in capsys.readouterr().out

"""The page as text, the command that writes it, and the drawings of the hardware pages."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree

import pytest
from book_layouts import DEMO, DEMO_FILE, LAYOUTS, SERVO, Cells
from pytest_mock import MockerFixture

from firmware_py.book.diagrams import DIRECTORY, diagrams
from firmware_py.book.diagrams import main as draw
from firmware_py.book.making import NotPlannedError, wiring_book
from firmware_py.book.style import Paper
from firmware_py.commands import wiring as wiring_command
from firmware_py.commands.main import main
from firmware_py.layout.reading import parse_layout

ROOT = Path(__file__).parents[2]
WAITING = SERVO.replace("hasp = 4", 'hasp = "auto"').replace("bolt = 12", 'bolt = "auto"')

WITHOUT_A_BROWSER = pytest.mark.usefixtures("no_browser")


@pytest.fixture
def no_browser(mocker: MockerFixture) -> None:
    mocker.patch.object(wiring_command.shutil, "which", return_value=None)


@pytest.mark.parametrize("name", LAYOUTS)
def test_the_page_fetches_nothing_and_runs_nothing(name: str) -> None:
    page = wiring_book(LAYOUTS[name], "layout.toml")
    assert not re.search(r"<(?:script|link|img|iframe|object|embed|base)\b", page, re.IGNORECASE)
    assert not re.search(r"\bsrc=|\bhref=|@import|url\(|\son\w+=", page)
    assert set(re.findall(r"https?://[^\"'\s]*", page)) == {"http://www.w3.org/2000/svg"}
    assert "default-src 'none'" in page


def test_odd_names_are_text() -> None:
    page = wiring_book(LAYOUTS["varied"], '<i>"&.toml')
    assert "&lt;/title&gt;&lt;script&gt;alert(&quot;1&quot;)&lt;/script&gt; &amp; Grüße" in page
    assert "Made from &lt;i&gt;&quot;&amp;.toml" in page
    assert "Quay &lt;b&gt;&quot;7&quot;&lt;/b&gt; &amp; Söhne" in page


def test_control_characters_are_written_out() -> None:
    page = wiring_book(DEMO, "a\x1b[31m\u202e.toml")
    assert "\u202e" not in page
    assert "\\u202e" in page
    assert "\x1b" not in page


def test_the_same_layout_gives_the_same_bytes_in_another_process() -> None:
    script = (
        "import sys\n"
        "from pathlib import Path\n"
        "from firmware_py.book.making import wiring_book\n"
        "from firmware_py.layout.reading import read_layout\n"
        "page = wiring_book(read_layout(Path(sys.argv[1])), 'wendlebeck.toml')\n"
        "sys.stdout.buffer.write(page.encode())\n"
    )
    made = {wiring_book(DEMO, "wendlebeck.toml").encode()}
    for seed in ("1", "2"):
        done = subprocess.run(
            [sys.executable, "-c", script, str(DEMO_FILE)],
            check=True,
            capture_output=True,
            cwd=ROOT,
            env={**os.environ, "PYTHONHASHSEED": seed},
        )
        made.add(done.stdout)
    assert len(made) == 1


def test_every_kind_of_circuit_is_drawn_once() -> None:
    page = wiring_book(DEMO, "x")
    letters = re.findall(r'<figcaption><span class="by">([A-Z]+)</span>', page)
    assert letters == [chr(ord("A") + n) for n in range(len(letters))]
    assert {row[6] for row in Cells(page).rows("wires")} == set(letters)


def test_every_table_of_wires_repeats_its_stands_name_on_each_page() -> None:
    page = wiring_book(DEMO, "x")
    heads = re.findall(r'data-table="wires">.*?<thead><tr><th class="over"[^>]*>([^<]*)<', page)
    assert heads[:2] == ["Creamery switch (creamery-switch)", "Creamery (creamery)"]
    assert heads[-1] == "Key board"
    assert len(heads) == page.count('data-table="wires"')


@pytest.mark.parametrize("part", ["supplies", "header", "circuits", "stand", "parts", "drivers"])
def test_cautions_stand_where_they_matter(part: str) -> None:
    page = wiring_book(DEMO, "x")
    sections = re.findall(rf'<section data-part="{part}">.*?</section>', page, re.DOTALL)
    assert sections
    assert all('class="caution"' in each for each in sections)


def test_the_first_page_has_every_caution_and_what_is_wrong() -> None:
    first = wiring_book(DEMO, "x").partition("</section>")[0]
    for words in (
        "Low voltage only",
        "Listed, certified supplies",
        "A fuse in each branch",
        "Track power never goes to a pin",
        "Solder in moving air",
        "Small parts",
        "never for a real railway",
        "Local codes and licensed practice",
    ):
        assert words in first
    assert "Put this right" not in first
    weak = parse_layout(SERVO.replace("[wiring]", "[wiring]\npull_up_ohm = 47000"), "x")
    assert "below the 1 mA that wets a micro switch" in wiring_book(weak, "x")


def test_wires_without_a_pin_are_refused() -> None:
    with pytest.raises(NotPlannedError) as refused:
        wiring_book(parse_layout(WAITING, "x"), "x")
    assert refused.value.wires == ("mole-switch.hasp", "bolt of mole-switch")


@WITHOUT_A_BROWSER
def test_the_command_refuses_them_and_says_what_to_run(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "my layout.toml"
    path.write_text(WAITING, encoding="utf-8")
    assert main(["wiring", str(path), "--out", str(tmp_path / "book")]) == 1
    told = capsys.readouterr()
    assert "mole-switch.hasp, bolt of mole-switch have no pin" in told.err
    assert f"spurlock plan '{path}' --write" in told.err
    assert not (tmp_path / "book").exists()


@WITHOUT_A_BROWSER
def test_the_command_writes_the_page_and_says_how_to_print_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path, out = tmp_path / "mole.toml", tmp_path / "deep" / "book"
    path.write_text(SERVO, encoding="utf-8")
    out.mkdir(parents=True)
    (out / "wiring.pdf").write_bytes(b"of an older layout")
    assert main(["wiring", str(path), "--out", str(out), "--paper", "letter"]) == 0
    told = capsys.readouterr().out
    assert "no Chromium" in told
    assert "print at 100 %" in told
    assert [each.name for each in out.iterdir()] == ["wiring.html"]
    page = (out / "wiring.html").read_text(encoding="utf-8")
    assert page == wiring_book(parse_layout(SERVO, "x"), "mole.toml", Paper.LETTER)
    assert str(tmp_path) not in page


@WITHOUT_A_BROWSER
def test_a_broken_file_and_a_directory_that_is_a_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    broken, sound = tmp_path / "broken.toml", tmp_path / "mole.toml"
    broken.write_text("[[switch]]\n", encoding="utf-8")
    sound.write_text(SERVO, encoding="utf-8")
    assert main(["wiring", str(broken), "--out", str(tmp_path / "book")]) == 2
    assert "broken.toml:1:" in capsys.readouterr().err
    assert main(["wiring", str(sound), "--out", str(sound)]) == 2
    assert "no book is written" in capsys.readouterr().err


def test_the_hardware_pages_drawings_are_what_the_code_draws() -> None:
    kept = {path.name: path.read_text(encoding="utf-8") for path in (ROOT / DIRECTORY).iterdir()}
    drawn = {name: f"{svg}\n" for name, svg in diagrams().items()}
    assert kept.keys() == drawn.keys(), "python -m firmware_py.book.diagrams"
    stale = [name for name in drawn if kept[name] != drawn[name]]
    assert not stale, "python -m firmware_py.book.diagrams"


def test_every_drawing_is_shown_by_a_hardware_page() -> None:
    pages = "".join(
        path.read_text(encoding="utf-8") for path in (ROOT / "hardware_docs").glob("*.md")
    )
    for name in diagrams():
        assert f"(diagrams/{name})" in pages, name


def test_every_drawing_is_sound_xml_on_white() -> None:
    for name, svg in diagrams().items():
        root = ElementTree.fromstring(svg)
        ground = root[0]
        box = [float(number) for number in root.attrib["viewBox"].split()]
        assert ground.attrib["fill"] == "#fff", name
        assert [float(ground.attrib[key]) for key in ("width", "height")] == box[2:], name
        assert root.attrib["aria-label"], name


def test_drawing_anew_takes_old_drawings_away(tmp_path: Path) -> None:
    (tmp_path / "old.svg").write_text("<svg/>", encoding="utf-8")
    assert draw([str(tmp_path)]) == 0
    assert {path.name for path in tmp_path.iterdir()} == set(diagrams())

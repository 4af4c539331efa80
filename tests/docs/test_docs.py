"""The pages name only what exists, their examples can be read, and their sums are right."""

import importlib.util
import re
from contextlib import redirect_stdout
from functools import cache
from io import StringIO
from pathlib import Path

import pytest
from docs_reading import ROOT, Page, code_lines, pages, spurlock_lines

from firmware_py.commands.main import COMMANDS, main
from firmware_py.layout.advice import advice_on
from firmware_py.layout.errors import LayoutError
from firmware_py.layout.reading import parse_layout

E24: tuple[int, ...] = (10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30)
E24 += (33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91)
"""IEC 60063, as the package eseries 1.2.1 lists it too."""

OTHERS_OPTIONS = {"--help", "--version"}
USERS_OWN = {"my-layout.toml", "layout.toml", "evening.jsonl", "first.toml", "config.txt"}
"""Files that a page tells the reader to make, or that are the system's."""

BOTH = pytest.mark.parametrize("page", pages(), ids=lambda page: page.name)


@cache
def options_of(command: str) -> frozenset[str]:
    """The long options that a command's own help names; fails for a command that is not there."""
    said = StringIO()
    with redirect_stdout(said), pytest.raises(SystemExit) as ended:
        main([command, "--help"])
    assert ended.value.code == 0, f"there is no command {command}"
    return frozenset(re.findall(r"--[a-z][a-z-]*", said.getvalue()))


@BOTH
def test_every_command_line_names_a_command_and_options_that_exist(page: Page) -> None:
    for words in spurlock_lines(page):
        command, *rest = words
        if command in {*OTHERS_OPTIONS, "COMMAND"}:
            continue
        assert command in COMMANDS, f"spurlock {' '.join(words)}"
        named = {word.partition("=")[0] for word in rest if word.startswith("--")}
        assert named <= options_of(command), f"spurlock {' '.join(words)}"


@pytest.mark.parametrize("page", [p for p in pages() if p.name != "DEVELOPERS.md"])
def test_every_option_named_by_itself_belongs_to_a_command(page: Page) -> None:
    known = OTHERS_OPTIONS.union(*(options_of(command) for command in COMMANDS))
    for span in page.spans():
        if span.startswith("--"):
            assert span.split()[0] in known, f"{page.name}: {span}"


@BOTH
def test_every_module_that_is_run_by_name_exists(page: Page) -> None:
    for line in code_lines(page):
        for module in re.findall(r"python3? -m ([\w.]+)", line):
            ours = ROOT.joinpath(*module.split("."))
            there = ours.with_suffix(".py").exists() or (ours / "__main__.py").exists()
            assert there or importlib.util.find_spec(module), f"{page.name}: {line}"


@BOTH
def test_every_link_leads_somewhere(page: Page) -> None:
    for link in page.links():
        assert (page.path.parent / link).exists(), f"{page.name}: {link}"


@BOTH
def test_every_path_in_the_repository_exists(page: Page) -> None:
    for span in page.spans():
        if not re.fullmatch(r"[\w.-]+(/[\w.-]+)+/?", span) or span.startswith(".venv/"):
            continue
        near = page.path.parent / span
        assert near.exists() or (ROOT / span).exists(), f"{page.name}: {span}"


@BOTH
def test_every_file_named_by_itself_exists(page: Page) -> None:
    rooms = [ROOT, *(ROOT / room for room in ("firmware_py", "web", "hardware_docs", "tests"))]
    for span in page.spans():
        if not re.fullmatch(r"[\w-]+\.(md|py|toml|svg|jsonl|txt)", span) or span in USERS_OWN:
            continue
        found = [room for room in rooms if (room / span).exists()]
        assert found or any(any(room.rglob(span)) for room in rooms[1:]), f"{page.name}: {span}"


LAYOUTS = [(page, text) for page in pages() for text in page.fences("toml layout")]


@pytest.mark.parametrize(("page", "text"), LAYOUTS, ids=lambda value: getattr(value, "name", ""))
def test_layout_examples_can_be_read_and_deserve_no_advice(page: Page, text: str) -> None:
    layout = parse_layout(text, page.name)
    assert layout.spurs
    assert advice_on(layout) == ()


def test_there_are_layout_examples() -> None:
    assert {page.name for page, _ in LAYOUTS} >= {
        "README.md",
        "hardware_docs/contacts.md",
        "hardware_docs/outputs.md",
    }


def test_readmes_tape_plays_on_readmes_layout(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    readme = page_named("README.md")
    layout, tape = tmp_path / "my-layout.toml", tmp_path / "evening.jsonl"
    layout.write_text(readme.fences("toml layout")[0], encoding="utf-8")
    tape.write_text(readme.fences("json")[0], encoding="utf-8")
    assert main(["replay", str(layout), str(tape)]) == 0
    assert '"next": "tannery-switch"' in capsys.readouterr().out


def page_named(name: str) -> Page:
    return next(page for page in pages() if page.name == name)


def test_readme_gives_the_two_commands_for_a_fresh_machine() -> None:
    shown = page_named("README.md").fences("sh")
    assert shown[0].splitlines() == [
        "python3 -m venv .venv && .venv/bin/pip install . && .venv/bin/spurlock demo"
    ]
    assert shown[1].splitlines() == [
        "python3 -m venv .venv && .venv/bin/pip install -e '.[test]' && .venv/bin/python -m pytest"
    ]


def test_readme_lists_every_command_once() -> None:
    rows = page_named("README.md").table("command")
    assert sorted(row[0].strip("`").split()[1] for row in rows) == sorted(COMMANDS)


def e24_at_least(ohms: float) -> float:
    decades = (value * 10.0**power for power in range(-1, 5) for value in E24)
    return next(value for value in decades if value >= ohms - 1e-9)


RESISTORS = page_named("hardware_docs/outputs.md").table("supply V")


@pytest.mark.parametrize("row", RESISTORS, ids=lambda row: row[-1])
def test_resistor_examples_follow_from_their_formula(row: list[str]) -> None:
    supply, led, driver, wanted_ma, exact, chosen, gives_ma, heat_mw = map(float, row[:8])
    volts = supply - led - driver
    assert exact == round(volts / wanted_ma * 1000, 1)
    assert chosen == e24_at_least(volts / wanted_ma * 1000)
    assert gives_ma == round(volts / chosen * 1000, 1)
    assert heat_mw == round(volts**2 / chosen * 1000)
    assert heat_mw < 250, "a quarter-watt resistor takes it"


@pytest.mark.parametrize(
    ("ohms", "chosen"), [(350, 360), (150, 150), (433.3, 470), (900, 910)], ids=str
)
def test_rounding_up_agrees_with_published_examples(ohms: float, chosen: float) -> None:
    # 350 -> 360 is a hobby electronics page's worked example, 150 -> 150 another's; the other
    # two were found with the package eseries 1.2.1.
    assert e24_at_least(ohms) == chosen


def test_pull_up_currents_follow_from_ohms_law() -> None:
    rows = page_named("hardware_docs/contacts.md").table("pull-up")
    microamperes = {"50": "66", "65": "51", "33": "100", "73": "45"}
    for ohms, current in microamperes.items():
        assert round(3.3 / (float(ohms) * 1e3) * 1e6) == int(current)
    assert "50 to 65 kΩ" in rows[0][0]
    assert rows[0][1] == "51 to 66 µA"
    assert "33 to 73 kΩ" in rows[1][0]
    assert rows[1][1] == "45 to 100 µA"
    assert rows[2][:2] == ["external 2.2 kΩ", f"{3.3 / 2.2:.1f} mA"]


def pin_rows() -> dict[int, tuple[str, str]]:
    """What the page says of each BCM number, as a contact and as an output."""
    said = {}
    for numbers, _, contact, output, _ in page_named("hardware_docs/pins.md").table("BCM"):
        first, last = map(int, numbers.split("-"))
        said.update(dict.fromkeys(range(first, last + 1), (contact, output)))
    return said


def judged(contact: int | None, lamp: int | None) -> str:
    """What the layout's own reading and advice say of a pin."""
    hasp = '"auto"' if contact is None else contact
    green = '"auto"' if lamp is None else lamp
    text = f"""
[[switch]]
id = "s"
contacts = {{ hasp = {hasp}, normal = "auto", reverse = "auto" }}
lamps = {{ green = {green} }}
[[spur]]
id = "t"
switch = "s"
"""
    try:
        advice = advice_on(parse_layout(text, "pins"))
    except LayoutError:
        return "never"
    return "no" if any("GPIO" in each.text for each in advice) else "yes"


@pytest.mark.parametrize("bcm", range(28))
def test_the_table_of_pins_says_what_check_says(bcm: int) -> None:
    assert pin_rows()[bcm] == (judged(bcm, None), judged(None, bcm))


@pytest.mark.parametrize(
    ("formula", "said", "value"),
    [
        ("3.3 x 1 / 3.2 = {} V", "1.03", 3.3 * 1 / (2.2 + 1)),
        ("(2.2 + 1) kΩ x 100 nF = {} ms", "0.32", (2.2 + 1) * 1e3 * 100e-9 * 1e3),
        ("(3.3 - 1.4) / 50 kΩ = {} µA", "38", (3.3 - 1.4) / 50e3 * 1e6),
        ("(3.3 - 1.4) / 2.7 kΩ = {} mA", "0.7", (3.3 - 1.4) / 2.7e3 * 1e3),
        ("3.3 V / 10 kΩ = {} mA", "0.33", 3.3 / 10e3 * 1e3),
        ("10 kΩ ({} mA)", "0.33", 3.3 / 10e3 * 1e3),
        ("12 V on 80 Ω is {} mA", "150", 12 / 80 * 1e3),
        ("150 mA and {} W", "1.8", 12**2 / 80),
        ("0.8 x supply = {} V", "2.64", 0.8 * 3.3),
        ("2^20 / 65,536 = {} s", "16", 2**20 / 65_536),
        ("**3 mA for each lamp on the header, {} lamps at most**", "16", 50 // 3),
    ],
)
def test_every_sum_in_the_text_is_right(formula: str, said: str, value: float) -> None:
    texts = " ".join(" ".join(page.text.split()) for page in pages())
    assert formula.format(said) in texts.replace("\N{MULTIPLICATION SIGN}", "x")
    assert f"{value:.{len(said.partition('.')[2])}f}" == said


def test_every_hardware_page_carries_the_cautions_or_leads_to_them() -> None:
    for page in pages():
        if page.name.startswith("hardware_docs/") and page.name != "hardware_docs/README.md":
            assert "README.md" in page.links(), page.name
    cautions = page_named("hardware_docs/README.md").text
    for words in ("Low voltage only", "fuse", "Track power never goes to a pin", "real railway"):
        assert words in cautions

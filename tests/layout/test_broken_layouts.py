"""Every file in tests/broken_layouts/ says in its first line what its first problem must be."""

import re
from pathlib import Path

import pytest

from firmware_py.layout.errors import LayoutError
from firmware_py.layout.reading import LARGEST_FILE, parse_layout, read_layout

FOLDER = Path(__file__).parents[1] / "broken_layouts"
FILES = sorted(FOLDER.glob("*.toml"))
EXPECTED = re.compile(r"# (?:line (\d+)|no line): (.*)")


def test_there_are_files() -> None:
    assert len(FILES) >= 30


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_broken_layout_raises_one_clear_line(path: Path) -> None:
    expected = EXPECTED.fullmatch(path.read_text(encoding="utf-8").splitlines()[0])
    assert expected is not None
    with pytest.raises(LayoutError) as caught:
        read_layout(path)
    place = f"{path}:{expected[1]}: " if expected[1] else f"{path}: "
    text = str(caught.value)
    assert text.startswith(place)
    assert expected[2] in text
    assert len(text.splitlines()) == 1


def _problem(path: Path) -> str:
    with pytest.raises(LayoutError) as caught:
        read_layout(path)
    assert len(caught.value.problems) == 1
    return str(caught.value)


def test_missing_file(tmp_path: Path) -> None:
    assert "there is no such file" in _problem(tmp_path / "none.toml")


def test_folder(tmp_path: Path) -> None:
    assert "this is a folder" in _problem(tmp_path)


def test_path_through_a_file(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    assert "can't be read" in _problem(tmp_path / "file" / "layout.toml")


def test_path_with_a_zero_byte() -> None:
    assert "can't be read" in _problem(Path("a\0b"))


def test_not_utf8_gives_the_line(tmp_path: Path) -> None:
    path = tmp_path / "latin.toml"
    path.write_bytes(b'[layout]\nname = "M\xfchle"\n')
    assert _problem(path).startswith(f"{path}:2: byte 0xfc is not UTF-8")


def test_byte_order_mark(tmp_path: Path) -> None:
    path = tmp_path / "marked.toml"
    path.write_bytes(b"\xef\xbb\xbf[layout]\n")
    assert f"{path}:1: the file begins with a byte order mark" in _problem(path)


def test_binary(tmp_path: Path) -> None:
    path = tmp_path / "binary.toml"
    path.write_bytes(bytes(range(128)))
    assert f"{path}:1: this is not TOML" in _problem(path)


def test_enormous_file(tmp_path: Path) -> None:
    path = tmp_path / "large.toml"
    path.write_bytes(b"#" * (LARGEST_FILE + 1))
    assert "larger than 4 MiB" in _problem(path)


@pytest.mark.parametrize(
    ("text", "fragment"),
    [
        ("a = " + "[" * 50_000, "nested too deeply"),
        ("a = " + "9" * 5_000, "too many digits"),
        ("a = ", "f: this is not TOML"),
        ("", "f: there is no switch"),
        ('[[switch]]\n"a\\u2028b" = 1', 'f:2: switch number 1: unknown key "a\\u2028b"'),
        ("switch = 5", "f:1: write [[switch]]"),
        ("switch = [1]", "f:1: write [[switch]]"),
        ("layout = 5", "f:1: layout must be a table"),
        ("[layout]\nclock_ratio = " + "9" * 400, "f:2: [layout]: clock_ratio must be a number"),
        ("[layout]\nname = 2026-01-02", "not the date or time 2026-01-02"),
    ],
)
def test_odd_texts(text: str, fragment: str) -> None:
    with pytest.raises(LayoutError) as caught:
        parse_layout(text, "f")
    problems = [str(problem) for problem in caught.value.problems]
    assert any(fragment.removeprefix("f: ") in problem for problem in problems)
    assert all(len(problem.splitlines()) == 1 for problem in problems)


def test_all_problems_are_kept_in_file_order() -> None:
    text = (
        '[[key]]\nid = "b-key"\ncontacts = { hook = 99 }\n'
        '[layout]\nname = 1\n[[switch]]\nid = "a"\nlock = "none"\n'
        "contacts = { normal = 4, reverse = 4 }\nbogus = 1\n"
    )
    with pytest.raises(LayoutError) as caught:
        parse_layout(text, "f")
    assert [problem.line for problem in caught.value.problems] == [3, 5, 9, 10]


def test_a_misspelt_key_is_not_also_called_missing() -> None:
    text = '[[switch]]\nid = "a"\nlock = "none"\ncontacts = { normel = 4, reverse = 5 }\n'
    with pytest.raises(LayoutError) as caught:
        parse_layout(text, "f")
    assert [str(problem) for problem in caught.value.problems] == [
        'f:4: switch "a": contacts: unknown key "normel"; did you mean "normal"?'
    ]


def test_one_mistake_is_not_blamed_on_those_who_refer_to_it() -> None:
    """The spur's order stands before the gate's misspelt table, and is right."""
    text = (FOLDER / "unknown-table.toml").read_text(encoding="utf-8")
    with pytest.raises(LayoutError) as caught:
        parse_layout(text, "f")
    assert len(caught.value.problems) == 1

"""Positions in TOML: each path of a text with every form of value is on the line it stands on."""

import tomllib

from firmware_py.layout.lines import Path, lines_of

TEXT = '''# a comment with "quotes" and [brackets]
top = 1
"quo ted" = 'x # no comment'
[one]
a.b."c\\u0041" = """
  text \\""" and ] } [[two]] """"
d = [ # first
  1, [2,
  3], { e = 4, f.g = "5}" },
]
[[two]]
k = 1979-05-27 07:32:00
l = \'\'\'
[[two]]\'\'\'
[[two]]
[two.sub]
m = { n = [ { o = 1 } ] }
  [[two.deep]]
  p = -1.5e3
  [[two.deep]]
  p = inf
'''

EXPECTED: dict[Path, int] = {
    ("top",): 2,
    ("quo ted",): 3,
    ("one",): 4,
    ("one", "a", "b", "cA"): 5,
    ("one", "d"): 7,
    ("one", "d", 0): 8,
    ("one", "d", 1, 0): 8,
    ("one", "d", 1, 1): 9,
    ("one", "d", 2, "f", "g"): 9,
    ("two", 0): 11,
    ("two", 0, "k"): 12,
    ("two", 0, "l"): 13,
    ("two", 1): 15,
    ("two", 1, "sub"): 16,
    ("two", 1, "sub", "m", "n", 0, "o"): 17,
    ("two", 1, "deep", 0, "p"): 19,
    ("two", 1, "deep", 1): 20,
    ("two", 1, "deep", 1, "p"): 21,
}


def test_every_path_is_on_its_line() -> None:
    tomllib.loads(TEXT)
    lines = lines_of(TEXT)
    assert {path: lines.of(path) for path in EXPECTED} == EXPECTED


def test_windows_line_ends_count_the_same() -> None:
    lines = lines_of(TEXT.replace("\n", "\r\n"))
    assert {path: lines.of(path) for path in EXPECTED} == EXPECTED


def test_what_is_absent_has_the_line_of_the_table_around_it() -> None:
    lines = lines_of(TEXT)
    assert lines.of(("two", 0, "absent", "deeper")) == 11
    assert lines.of(("absent",)) is None
    assert lines.of(()) is None


def test_a_text_it_can_not_follow_keeps_what_was_found() -> None:
    lines = lines_of("a = 1\n= 2\nb = 3\n")
    assert lines.of(("a",)) == 1
    assert lines.of(("b",)) is None

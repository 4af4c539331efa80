"""``wait_scale``: read from a layout, written into its text, and all else kept to the letter."""

from __future__ import annotations

from dataclasses import replace
from importlib.resources import files

import pytest

from firmware_py.layout.errors import LayoutError
from firmware_py.layout.pacing import same_but_for_waits, wait_scale_of, with_wait_scale
from firmware_py.layout.reading import parse_layout

TOML = (files("firmware_py.demo") / "layouts" / "wendlebeck.toml").read_text("utf-8")


@pytest.mark.parametrize("scale", [0.05, 0.5, 1.0, 2.45, 6, 1000])
def test_the_text_says_the_scale_and_nothing_else_changes(scale: float) -> None:
    made = with_wait_scale(TOML, scale)
    before, after = parse_layout(TOML, "f"), parse_layout(made, "f")
    assert after == replace(before, wait_scale=float(scale))
    assert after.wait_ratio == pytest.approx(before.clock_ratio / scale)
    kept = [line for line in made.splitlines() if not line.startswith("wait_scale")]
    assert kept == TOML.splitlines()
    assert same_but_for_waits(made, TOML)


def test_a_text_that_says_so_already_is_left_alone() -> None:
    twice = with_wait_scale(TOML, 2.0)
    assert with_wait_scale(twice, 2.0) == twice
    assert with_wait_scale(TOML, 1.0) == TOML
    assert wait_scale_of(with_wait_scale(twice, 1.0)) == 1.0


@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_line_ends_and_comments_stay(end: str) -> None:
    text = TOML.replace("\n", end)
    assert wait_scale_of(with_wait_scale(text, 3.0)) == 3.0
    assert same_but_for_waits(with_wait_scale(text, 3.0), text)


def test_another_layout_is_not_the_same() -> None:
    assert not same_but_for_waits(with_wait_scale(TOML, 2.0), TOML + "# changed\n")
    assert not same_but_for_waits("no toml [", TOML)


def test_a_heading_in_another_form() -> None:
    text = 'layout = { name = "Basin" }\n' + TOML[TOML.index("[[switch]]") :]
    assert parse_layout(with_wait_scale(text, 4.0), "f").wait_scale == 4.0
    bare = TOML[TOML.index("[[switch]]") :]
    assert wait_scale_of(with_wait_scale(bare, 4.0)) == 4.0


@pytest.mark.parametrize("value", ["0", "-1", "nan", "inf", "1001", '"slow"', "true"])
def test_what_is_no_scale_is_refused_with_its_line(value: str) -> None:
    text = TOML.replace("[layout]\n", f"[layout]\nwait_scale = {value}\n", 1)
    with pytest.raises(LayoutError, match="wait_scale must be"):
        parse_layout(text, "f")

"""Property 6: orders that can't be worked are refused as the file is read, and why."""

import pytest

from firmware_py.layout.errors import LayoutError
from firmware_py.layout.reading import parse_layout
from tests.proof.unworkable_layouts import UNWORKABLE, WORKABLE


def test_there_are_twenty() -> None:
    assert len(UNWORKABLE) >= 20


@pytest.mark.parametrize("name", sorted(UNWORKABLE))
def test_an_order_that_cannot_be_worked_is_refused(name: str) -> None:
    text, words = UNWORKABLE[name]
    with pytest.raises(LayoutError) as caught:
        parse_layout(text, "osier.toml")
    assert words in str(caught.value)
    assert str(caught.value).startswith("osier.toml:")
    assert len(caught.value.problems) == 1


@pytest.mark.parametrize("name", sorted(WORKABLE))
def test_the_remedy_is_taken(name: str) -> None:
    assert parse_layout(WORKABLE[name], "osier.toml").spurs


def test_behind_must_name_a_gate() -> None:
    text = WORKABLE["chock-behind-an-earlier-gate"].replace('behind = "g"', 'behind = "osier"')
    with pytest.raises(LayoutError, match="is a spur, but must be a gate"):
        parse_layout(text, "osier.toml")

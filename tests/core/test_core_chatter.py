"""When chatter begins and ends, to the microsecond (section 7).

It begins at a raw edge with more than 20 edges later than one second ago, and ends after five
quiet seconds.
"""

from __future__ import annotations

import pytest
from core_bench import SECOND, rich_layout

from firmware_py.core.core import Core
from firmware_py.core.entries import FaultEntry

CONTACT = "marl-gate.shut"


def chatter(core: Core, edges_us: list[int]) -> list[tuple[int, bool]]:
    """Let the contact change at these times: when chatter began (`False`) or ended (`True`)."""
    found = []
    for t_us in edges_us:
        entries = core.reading(t_us, CONTACT, not core.raw()[CONTACT])
        found += [(entry.t_us, entry.ended) for entry in entries if isinstance(entry, FaultEntry)]
    return found


def spread(first_us: int, last_us: int, edges: int) -> list[int]:
    """So many edges, the first and the last at these times, all others halfway between."""
    return [first_us, *[(first_us + last_us) // 2] * (edges - 2), last_us]


@pytest.mark.parametrize(
    ("edges", "apart_us", "begins"),
    [(21, SECOND - 1, True), (21, SECOND, False), (20, SECOND - 1, False)],
)
def test_more_than_twenty_edges_later_than_a_second_ago(
    edges: int, apart_us: int, begins: bool
) -> None:
    last_us = SECOND + apart_us
    found = chatter(Core(rich_layout()), spread(SECOND, last_us, edges))
    assert found == ([(last_us, False)] if begins else [])


def test_edges_a_second_ago_are_forgotten_one_by_one() -> None:
    """Ten edges each 0.6 s are 20 within a second, however long it goes on; one more is not."""
    core = Core(rich_layout())
    times = [SECOND * 6 * burst // 10 + edge for burst in range(20) for edge in range(10)]
    assert chatter(core, times) == []
    assert chatter(core, [times[-1] + 1]) == [(times[-1] + 1, False)]


def test_chatter_ends_five_seconds_after_the_last_edge() -> None:
    core = Core(rich_layout())
    chatter(core, [SECOND] * 21)
    assert core.faults() == [("chattering", CONTACT)]
    chatter(core, [3 * SECOND])
    core.advance(8 * SECOND - 1)
    assert core.faults() == [("chattering", CONTACT)]
    core.advance(8 * SECOND)
    assert core.faults() == []

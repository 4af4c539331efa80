"""What belongs to one event is told to the diary in one block, so that no kill tears it apart."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from engine_stage import SETTLED_IN_US, Notebook, Stage, reading

from firmware_py.core.names import Command
from firmware_py.core.orders import Order
from firmware_py.engine.ports import Given, Stop

BEGUN = SETTLED_IN_US
SECOND = 1_000_000
TOLD = {"tape", "entry", "repeat", "acknowledged", "answer"}

Done = tuple[Any, ...]


@pytest.fixture(autouse=True)
def blocks_are_noted(monkeypatch: pytest.MonkeyPatch) -> None:
    """Have the notebook note where each block begins and ends."""

    @contextmanager
    def together(self: Notebook) -> Iterator[None]:
        self.did.append(("block",))
        yield
        self.did.append(("end",))

    monkeypatch.setattr(Notebook, "together", together)


def blocks_of(stage: Stage) -> tuple[list[list[Done]], list[Done]]:
    """What was done in each block, and what was done outside of all of them."""
    within: list[list[Done]] = []
    outside: list[Done] = []
    depth = 0
    for done in stage.did:
        if done[0] == "block":
            depth += 1
            if depth == 1:
                within.append([])
        elif done[0] == "end":
            depth -= 1
        else:
            (within[-1] if depth else outside).append(done)
    assert depth == 0, "each block ends"
    return within, outside


def play_an_evening(stage: Stage) -> None:
    stage.play(
        [
            reading(BEGUN + SECOND, "mill-switch.normal", False),
            (BEGUN + 3 * SECOND, Given(Order(Command.ACKNOWLEDGE, violation=1), request=7)),
            (BEGUN + 4 * SECOND, Given(Order(Command.ACKNOWLEDGE, violation=9), request=8)),
            (BEGUN + 5 * SECOND, Stop()),
        ]
    )


def test_an_order_is_one_block_with_its_row_and_its_answer(stage: Stage) -> None:
    play_an_evening(stage)
    within, _ = blocks_of(stage)
    [accepted] = [block for block in within if ("answer", 7, True, None) in block]
    kinds = [done[0] for done in accepted]
    assert kinds[0] == "tape"
    assert "acknowledged" in kinds
    [refused] = [block for block in within for done in block if done[:2] == ("answer", 8)]
    assert {"tape", "entry"} <= {done[0] for done in refused}
    assert "acknowledged" not in {done[0] for done in refused}


def test_nothing_of_an_event_is_told_outside_its_block(stage: Stage) -> None:
    play_an_evening(stage)
    within, outside = blocks_of(stage)
    assert not TOLD & {done[0] for done in outside}
    assert max(sum(done[0] == "tape" and done[1] > 0 for done in block) for block in within) == 1
    assert any(done[0] == "entry" for block in within for done in block)


def test_lamps_do_not_wait_within_a_block(stage: Stage) -> None:
    """A lamp goes before the log, and the writer is held back no longer than need be."""
    play_an_evening(stage)
    within, outside = blocks_of(stage)
    assert any(done[0] == "show" for done in outside)
    assert not any(done[0] == "show" for block in within for done in block)


def test_how_contacts_stood_at_the_beginning_is_one_block(stage: Stage) -> None:
    """Half of them, after a kill, would be a session whose other contacts nobody knows."""
    play_an_evening(stage)
    within, _ = blocks_of(stage)
    begun = [block for block in within for done in block if done[:2] == ("tape", 0)]
    assert len(begun) == len(stage.layout.contacts)
    assert all(block is begun[0] for block in begun)

"""Each fault once, caused for real over a whole club with a real Mosquitto and a real PostgreSQL.

Nothing lost, nothing doubled, every box's lamps unaffected, and the board right again. How soon
is told by ``python -m tests.club schedules``, which plays random ones.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import text

from club.faults import kinds
from club.fleet import Fleet, fleet_in, is_root, running
from club.schedules import lamps_unaffected, play, ready
from club.truth import difference, doubled
from club.working import Hands

pytestmark = pytest.mark.timeout(240)
KINDS = (
    "courier-killed",
    "courier-hung",
    "gatherer-killed",
    "engine-killed",
    "clock-off",
    "broker-restarted",
    "broker-forgot",
    "link-down",
    "database-restarted",
    "database-crashed",
    "disk-full",
)


@pytest.fixture(scope="module")
def fleet(memory: Path) -> Iterator[Fleet]:
    made = fleet_in(memory / "fleet", boards=2, disk_mb=160)
    with running(made):
        ready(made)
        yield made


@pytest.fixture(scope="module")
def hands(fleet: Fleet) -> Iterator[Hands]:
    made = Hands(fleet, 3)
    made.start()
    yield made
    made.close()


@pytest.mark.parametrize("kind", KINDS)
def test_nothing_is_lost_or_doubled(fleet: Fleet, hands: Hands, kind: str) -> None:
    if kind not in kinds(fleet):
        assert not is_root()
        pytest.skip("only root can pull a cable or fill a disk of its own")
    outcome = play(fleet, hands, KINDS.index(kind), only=kind)
    assert outcome.wrong == [], f"{outcome}\n{fleet.said}"


def test_no_boxs_lamps_were_affected(fleet: Fleet, hands: Hands) -> None:
    hands.rest()
    assert hands.left > 0
    assert lamps_unaffected(fleet) == []


def test_a_checker_that_finds_nothing_is_no_use(fleet: Fleet, hands: Hands) -> None:
    """A row that is taken away, and one that comes twice, are both seen."""
    hands.rest()
    board = fleet.boards[0]
    with board.database.begin() as connection:
        connection.execute(text("DROP INDEX entry_of_node"))
        wanted = "session_id, t_us, wall_us, what, at, spur, line, seq"
        newest = "SELECT max(id) FROM entry WHERE session_id IN (SELECT session_id FROM gathered)"
        copied = f"SELECT {wanted} FROM entry WHERE id = ({newest})"
        connection.execute(text(f"INSERT INTO entry ({wanted}) {copied}"))
    assert [one for each in fleet.nodes if (one := doubled(board.database, each.name))]
    with board.database.begin() as connection:
        connection.execute(text(f"DELETE FROM entry WHERE id = ({newest})"))
    assert [doubled(board.database, each.name) for each in fleet.nodes] == ["", "", ""]
    with board.database.begin() as connection:
        connection.execute(text(f"DELETE FROM entry WHERE id = ({newest})"))
    lacking = [difference(one.database, board.database, one.name) for one in fleet.nodes]
    assert any(lacking)

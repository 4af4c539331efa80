"""A box at which an output is worked by hand is no safe one, for its lamps may lie meanwhile."""

from __future__ import annotations

from pathlib import Path

from club.fake_link import FakeLink
from firmware_py.club.courier import Courier
from firmware_py.club.messages import Health, decode
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.writing import Keeper

LAYOUT = '[layout]\nname = "Tannery Bank"\n'


def words(courier: Courier, link: FakeLink) -> list[str]:
    """What one look has told of the engine."""
    link.sent.clear()
    courier.turn()
    assert courier.trouble is None
    told = [payload for topic, payload in link.sent if topic.endswith("health")]
    return [decode(payload, Health).engine for payload in told]


def test_a_hand_is_told_at_once_and_so_is_its_end(tmp_path: Path) -> None:
    engine = open_engine(str(tmp_path / "tannery.sqlite"))
    keeper = Keeper(engine)
    keeper.begin_session(
        layout_name="Tannery Bank",
        layout_path="tannery.toml",
        layout_toml=LAYOUT,
        simulated=True,
        outset={},
    )
    keeper.pulse("guarding")
    assert keeper.flush()
    link, now = FakeLink(), [0.0]
    courier = Courier("west", engine, link, wall_us=lambda: 0, now_s=lambda: now[0])
    assert words(courier, link) == ["guarding"]
    now[0] += 0.15  # Long before the next word of health is due.
    keeper.by_hand(
        "mill.green",
        "steady",
        whence="127.0.0.1",
        since_t_us=0,
        until_t_us=60_000_000,
        until_wall_us=60_000_000,
    )
    assert keeper.flush()
    assert words(courier, link) == ["by-hand"]
    now[0] += 0.15
    keeper.hand_off("mill.green")
    assert keeper.flush()
    assert words(courier, link) == ["guarding"]
    keeper.close()
    courier.close()
    engine.dispose()

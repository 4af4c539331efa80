"""A box's own word: its [node] table, its credentials, its incarnation, its names on a board."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from firmware_py.club.credentials import ClubError, read_password
from firmware_py.club.messages import Health
from firmware_py.gathering.attendance import (
    MOST_LEFT,
    SHARED_FOR_S,
    SILENT_AFTER_S,
    STILL_AFTER_S,
    TWO_WITHIN_S,
    Attendance,
    Fares,
)
from firmware_py.gathering.board_file import read_board
from firmware_py.gathering.layouts import layout_on_board, one_layout, with_keys
from firmware_py.gathering.names import number_on_board, of_node, of_number, on_board
from firmware_py.layout.errors import LayoutError
from firmware_py.layout.reading import parse_layout, read_layout
from firmware_py.logbook.incarnation import incarnation_of
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.restoring import restore

ROOMS = Path(__file__).parents[2] / "firmware_py" / "demo" / "layouts" / "club"
SOUND = """
[layout]
name = "Tannery Bank"
[[switch]]
id = "tannery-switch"
lock = "none"
contacts = { normal = "auto", reverse = "auto" }
[node]
name = "west-room"
broker = "broker.local"
credentials = "west-room.credentials"
"""


def test_a_node_is_read_and_speaks_tls_unless_told_otherwise() -> None:
    node = parse_layout(SOUND, "a").node
    assert node is not None
    assert (node.name, node.host, node.port, node.tls) == ("west-room", "broker.local", 8883, True)
    plain = parse_layout(SOUND + "tls = false\n", "a").node
    assert plain is not None
    assert (plain.port, plain.tls) == (1883, False)
    assert parse_layout(SOUND[: SOUND.index("[node]")], "a").node is None


@pytest.mark.parametrize(
    ("was", "put", "says"),
    [
        ('"west-room"\n', '"West Room"\n', "not in the right form"),
        ('"west-room"\n', '"west--room"\n', "not in the right form"),
        ('"broker.local"', '"broker local"', "must be an address"),
        ('"broker.local"', '"broker.local:99999"', "must be an address"),
        ('name = "west-room"\n', "", "name"),
        ("[node]\n", '[node]\npassword = "x"\n', "password"),
        ("[node]\n", '[node]\ntls = false\nca = "club.pem"\n', "ca is for TLS"),
    ],
)
def test_what_is_wrong_with_a_node_is_told_with_its_line(was: str, put: str, says: str) -> None:
    with pytest.raises(LayoutError, match=says):
        parse_layout(SOUND.replace(was, put), "a")


def test_a_password_that_others_can_read_is_refused(tmp_path: Path) -> None:
    secret = tmp_path / "west.credentials"
    with pytest.raises(ClubError, match="no such file"):
        read_password(secret)
    secret.write_text('password = "gorse"\n')
    secret.chmod(0o644)
    with pytest.raises(ClubError, match="chmod 600"):
        read_password(secret)
    secret.chmod(0o600)
    assert read_password(secret) == "gorse"
    secret.write_text('user = "x"\npassword = "gorse"\n')
    with pytest.raises(ClubError, match="one password"):
        read_password(secret)


def test_a_boards_file_is_read_or_refused(tmp_path: Path) -> None:
    path = tmp_path / "club.toml"
    sound = '[board]\nname = "board"\nbroker = "10.0.0.5"\ncredentials = "b.credentials"\n'
    key = '[[key]]\nkey = "west--yard-key"\nfits = ["east--mill-switch"]\n'
    path.write_text(sound + key)
    board = read_board(path)
    assert board.fits == {"east--mill-switch": "west--yard-key"}
    assert board.database == str(tmp_path / "board.sqlite")
    path.write_text(sound + key.replace("--", "-"))
    with pytest.raises(LayoutError, match="no thing of a box"):
        read_board(path)
    path.write_text("[board")
    with pytest.raises(ClubError, match="TOML"):
        read_board(path)


def test_names_of_a_board_read_back() -> None:
    assert of_node(on_board("west-room", "kiln-switch")) == ("west-room", "kiln-switch")
    assert of_node("kiln-switch") is None
    assert of_number(number_on_board(99, 12)) == (99, 12)


def test_a_key_of_one_room_is_fitted_to_locks_of_others() -> None:
    rooms = {
        path.stem: layout_on_board(path.stem, read_layout(path))
        for path in sorted(ROOMS.glob("*-room.toml"))
    }
    whole = one_layout("Valley", rooms)
    assert whole is not None
    assert len({thing.id for thing in whole.things}) == len(whole.things)
    key, switch = "upper-room--lower-key", "lower-room--brickyard-switch"
    fitted = with_keys(rooms["lower-room"], {switch: key, "lower-room--no": "x"}, whole.keys)
    assert [one.key for one in fitted.switches if one.id == switch] == [key]
    assert [one.id for one in fitted.keys] == [key]
    own = with_keys(rooms["upper-room"], {"upper-room--creamery-switch": key}, whole.keys)
    assert own.switches[0].key == "upper-room--upper-key"


def test_a_logbook_that_is_put_back_is_another_incarnation(tmp_path: Path) -> None:
    path, backup = tmp_path / "box.sqlite", tmp_path / "backup.sqlite"
    for file in (path, backup):
        open_engine(str(file)).dispose()
    engine = open_engine(str(backup))
    before = incarnation_of(engine)
    assert incarnation_of(engine) == before
    engine.dispose()
    restore(path, backup, datetime.now(UTC))
    engine = open_engine(str(path))
    assert incarnation_of(engine) != before
    engine.dispose()


def health(beat: int, wall_us: int = 0, *, here: bool = True, engine: str = "guarding") -> Health:
    return Health(here=here, incarnation="a" * 32, wall_us=wall_us, engine=engine, beat=beat)


def test_a_box_is_believed_only_once_its_engine_was_seen_to_beat() -> None:
    one = Attendance()
    assert one.fares(0.0, caught_up=True) is Fares.LISTENING
    one.hear(health(1), 0.0, 0, retained=True)  # What a broker kept proves no life.
    assert one.fares(0.0, caught_up=True) is Fares.LISTENING
    one.hear(health(1), 1.0, 0, retained=False)
    assert one.fares(1.0, caught_up=True) is Fares.LISTENING
    one.hear(health(2), 2.0, 0, retained=False)
    assert one.fares(2.0, caught_up=True) is Fares.GUARDING
    assert one.fares(2.0, caught_up=False) is Fares.BEHIND
    assert one.fares(2.0 + SILENT_AFTER_S, caught_up=True) is Fares.SILENT
    for second in range(3, 10):
        one.hear(health(2), float(second), 0, retained=False)
    assert one.fares(2.0 + STILL_AFTER_S, caught_up=True) is Fares.STILL
    one.hear(health(3, engine="stopped"), 10.0, 0, retained=False)
    assert one.fares(10.0, caught_up=True) is Fares.STOPPED
    one.hear(health(4, engine="by-hand"), 11.0, 0, retained=False)
    assert one.fares(11.0, caught_up=True) is Fares.BY_HAND  # It guards, but a lamp may lie.
    one.hear(health(0, here=False), 11.0, 0, retained=True)
    assert one.fares(11.0, caught_up=True) is Fares.GONE


def told_by(run: str, beat: int, incarnation: str = "0" * 32) -> Health:
    return Health(True, incarnation, 0, "guarding", beat, run=run)


def test_a_new_box_that_takes_an_old_ones_name_is_one_box() -> None:
    one = Attendance()
    for second in range(5):
        one.hear(told_by("a", second), float(second), 0, retained=False)
    one.hear(told_by("a", 4), 5.0, 0, retained=True)
    for second in range(6, 60):
        one.hear(told_by("b", second, "1" * 32), float(second), 0, retained=False)
        assert one.fares(float(second), caught_up=True) is not Fares.SHARED
    # And one whose courier falls again and again.
    for second, run in enumerate("cdefghijklmnopq", 60):
        one.hear(told_by(run, second, "1" * 32), float(second), 0, retained=False)
        assert one.fares(float(second), caught_up=True) is not Fares.SHARED


FIRST, SECOND = "0" * 32, "1" * 32


@pytest.mark.parametrize(
    ("runs", "incarnations"),
    [(("a", "b"), (FIRST, SECOND)), (("a", "b"), (FIRST, FIRST)), (("", ""), (FIRST, SECOND))],
    ids=["two", "a-copied-card", "without-a-run"],
)
def test_two_live_boxes_of_one_name_are_told_and_are_never_safe(
    runs: tuple[str, str], incarnations: tuple[str, str]
) -> None:
    one = Attendance()
    for beat in (1, 2):
        one.hear(told_by(runs[0], beat, incarnations[0]), float(beat), 0, retained=False)
    assert one.fares(2.0, caught_up=True) is Fares.GUARDING
    for second in range(3, 20):
        which = second % 2
        one.hear(told_by(runs[which], second, incarnations[which]), second, 0, retained=False)
        fares = one.fares(float(second), caught_up=True)
        assert fares is (Fares.LISTENING if second == 3 else Fares.SHARED)
        # The last will of the one that was cut off makes it no safer, nor what a broker kept.
        one.hear(health(0, here=False), second + 0.1, 0, retained=False)
        assert one.fares(second + 0.2, caught_up=True) is not Fares.GUARDING
    for second in range(20, 40):
        one.hear(told_by(runs[0], second, incarnations[0]), float(second), 0, retained=False)
        fares = one.fares(float(second), caught_up=True)
        if second >= 20 + SHARED_FOR_S:
            assert fares is Fares.GUARDING  # The other was switched off.
        else:
            assert fares is Fares.SHARED


def test_one_that_comes_back_after_long_is_no_second_box() -> None:
    one = Attendance()
    one.hear(told_by("a", 1), 0.0, 0, retained=False)
    one.hear(told_by("b", 1), 1.0, 0, retained=False)
    one.hear(told_by("a", 2), 2.0 + TWO_WITHIN_S, 0, retained=False)
    assert one.fares(2.0 + TWO_WITHIN_S, caught_up=True) is Fares.LISTENING


def test_what_a_stranger_draws_at_random_is_not_kept_for_ever() -> None:
    one = Attendance()
    for number in range(1_000):
        one.hear(told_by(f"{number:x}", 1), float(number), 0, retained=False)
    assert len(one.turns.left) <= MOST_LEFT


def test_a_clock_that_is_off_is_measured_and_nothing_else_depends_on_it() -> None:
    one = Attendance()
    ahead_us = 300_000_000
    for second, delay_us in enumerate((40_000, 5_000, 90_000)):
        told = health(second, second * 1_000_000 + ahead_us - delay_us)
        one.hear(told, float(second), second * 1_000_000, retained=False)
    assert one.offset_us() == ahead_us - 5_000
    assert one.fares(2.0, caught_up=True) is Fares.GUARDING

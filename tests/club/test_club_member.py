"""What a board makes of one box, message by message, with no broker and a clock of its own."""

from __future__ import annotations

from pathlib import Path

import pytest
from sqlalchemy import Engine

from firmware_py.club.messages import Ask, Batch, Contact, Fetch, Health, Standing
from firmware_py.gathering import store
from firmware_py.gathering.attendance import Fares
from firmware_py.gathering.desk import Desk
from firmware_py.gathering.member import Member
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.reading import Reader
from firmware_py.logbook.requests import leave_order

INCARNATION = "0" * 32
WALL_US = 1_000_000_000


@pytest.fixture
def database(tmp_path: Path) -> Engine:
    return open_engine(str(tmp_path / "board.sqlite"))


@pytest.fixture
def member(database: Engine) -> Member:
    """A box that guards: its health was heard twice, and its engine has beaten between."""
    with database.begin() as connection:
        member = Member("west", store.add_node(connection, "west", WALL_US))
    for beat in (1, 2):
        heard(member, beat=beat, standing=7)
        member.hear_standing(standing(7, made=True))
        taken(member, database)
    assert how(member) is Fares.GUARDING
    return member


def standing(revision: int, *, made: bool) -> Standing:
    contact = Contact("mill-switch.hasp", made, made, 1, WALL_US)
    return Standing(INCARNATION, revision, (contact,))


def heard(member: Member, *, beat: int, standing: int) -> None:
    health = Health(True, INCARNATION, WALL_US, "guarding", beat, standing=standing)
    member.hear_health(health, float(beat), WALL_US, retained=False)


def taken(member: Member, database: Engine) -> None:
    writes = store.Writes()
    with database.begin() as connection:
        member.take_in(connection, writes, WALL_US)
        writes.flush(connection)
        member.judge(connection)
    member.taken()


def fetched(member: Member, database: Engine) -> Fetch | None:
    with database.begin() as connection:
        return member.fetch(connection, "board", 10.0)


def how(member: Member) -> Fares:
    return member.how(2.5).state


def test_a_contact_that_moves_between_two_words_of_health_darkens_nothing(
    member: Member, database: Engine
) -> None:
    member.hear_standing(standing(8, made=False))
    taken(member, database)
    assert how(member) is Fares.GUARDING


def test_a_standing_that_health_speaks_of_and_that_never_came_leaves_it_behind(
    member: Member, database: Engine
) -> None:
    heard(member, beat=3, standing=8)
    taken(member, database)
    assert how(member) is Fares.BEHIND
    member.hear_standing(standing(8, made=False))
    taken(member, database)
    assert how(member) is Fares.GUARDING


def test_what_is_told_between_two_words_of_health_is_not_asked_for_again(
    member: Member, database: Engine
) -> None:
    member.hear_batch(
        Batch(INCARNATION, after=0, upto=3, remark_after=0, remark_upto=0), asked=False
    )
    taken(member, database)
    assert fetched(member, database) is None
    assert how(member) is Fares.GUARDING


def test_a_box_that_knows_less_than_it_told_is_asked(member: Member, database: Engine) -> None:
    member.hear_batch(
        Batch(INCARNATION, after=0, upto=3, remark_after=0, remark_upto=0), asked=False
    )
    taken(member, database)
    heard(member, beat=3, standing=7)  # Of nothing in its log, as before: it was put back.
    taken(member, database)
    asked = fetched(member, database)
    assert asked is not None
    assert asked.after == 3


def test_what_is_asked_of_a_box_that_is_behind_waits_until_it_is_not(database: Engine) -> None:
    desk = Desk("board", "The valley")
    left = leave_order(database, "release", spur="west--mill", wall_us=WALL_US)

    def turn(fares: Fares, now_s: float) -> list[Ask]:
        with database.begin() as connection:
            desk.attend(connection, {"west": fares}, {1: "west"}, now_s=now_s, wall_us=WALL_US)
        desk.attended(now_s)
        return [errand.ask for errand in desk.due({"west": fares}, now_s)]

    assert turn(Fares.BEHIND, 0.0) == []
    reader = Reader(database)
    assert reader.request(left).answered_wall_us is None
    (ask,) = turn(Fares.GUARDING, 0.1)
    assert (ask.kind, ask.command, ask.spur) == ("order", "release", "mill")
    late = leave_order(database, "release", spur="west--mill", wall_us=WALL_US + 1)
    turn(Fares.SILENT, 0.2)
    assert "does not guard now (silent)" in str(reader.request(late).why)
    reader.close()

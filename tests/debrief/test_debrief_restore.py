"""What is home, by hand and against the rulebook's own table; nothing unknown is ever home."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from debrief.debrief_player import LAYOUT
from firmware_py.layout.model import MADE_AT_REST, Chock, Contact, Derail, Flag, Gate, Lock
from firmware_py.logbook.records import StandingRecord, ViolationRecord
from firmware_py.logbook.screen.jobs import Job
from web.debrief.restore import Check, restore_check
from web.live.board import Board, begin
from web.live.plan import Plan

PLAN = Plan(LAYOUT)
REST: dict[str, bool | None] = {c.name: c.role in MADE_AT_REST for c in LAYOUT.contacts}
"""Every lock on, points normal, flags up, chocks set, keys hung, every track clear."""


def board(**foremen: str) -> Board:
    return begin({"foremen": {spur.replace("_", "-"): word for spur, word in foremen.items()}})


def check(
    changed: dict[str, bool | None] | None = None,
    *,
    on: Board | None = None,
    live: bool = True,
    violations: tuple[ViolationRecord, ...] = (),
    jobs: tuple[Job, ...] = (),
) -> Check:
    stand = REST | (changed or {})
    standing = {name: StandingRecord(name, made, made, 0, 0) for name, made in stand.items()}
    return restore_check(PLAN, on or Board(), standing, violations, jobs, live=live)


def told(found: Check) -> list[tuple[str, str, str, str]]:
    return [
        (place.id, item.thing, str(item.state), item.says)
        for place in found.places
        for item in place.items
    ]


def test_a_layout_at_rest_is_home_and_said_to_be() -> None:
    found = check()
    assert found.clear
    assert found.places == ()
    assert found.says == "Everything is home."
    assert "Creamery" in found.looked_at
    assert "Key board" in found.looked_at


def test_a_switch_is_told_as_it_lies() -> None:
    def switch(**moved: bool | None) -> list[tuple[str, str, str, str]]:
        return told(check({f"foundry-switch.{role}": made for role, made in moved.items()}))

    def one(state: str, says: str) -> list[tuple[str, str, str, str]]:
        return [("foundry", "foundry-switch", state, says)]

    assert switch(hasp=False) == one("out", "lined for the main, not locked")
    assert switch(hasp=False, normal=False, reverse=True) == one(
        "out", "lined for the spur, not locked"
    )
    assert switch(normal=False, reverse=True) == one("out", "lined for the spur, and locked so")
    assert switch(hasp=False, normal=False) == one(
        "out", "points between their two ends, not locked"
    )
    assert switch(reverse=True) == one("unknown", "points read both ways at once")
    assert switch(hasp=None) == one("unknown", "not known: whether it is locked")
    assert switch(normal=None, reverse=None) == one("unknown", "not known: how its points lie")
    assert switch(detector=True) == one("out", "something stands on its points")


def test_a_switch_without_a_lock_is_home_when_normal() -> None:
    assert check({"team-track-switch.reverse": False}).clear
    lined = {"team-track-switch.normal": False, "team-track-switch.reverse": True}
    assert told(check(lined)) == [("team-track", "team-track-switch", "out", "lined for the spur")]


def test_protections_are_told_where_they_stand() -> None:
    found = check(
        {
            "creamery-flag.rack": True,
            "sawmill-gate.hasp": False,
            "oil-dock-derail.on": False,
            "brickyard.fouling": True,
        }
    )
    assert not found.clear
    assert found.out == 4
    assert told(found) == [
        ("creamery", "creamery-flag", "out", "in its rack, not displayed"),
        ("sawmill", "sawmill-gate", "out", "shut, not locked"),
        ("oil-dock", "oil-dock-derail", "out", "off the rail"),
        (
            "brickyard",
            "brickyard",
            "out",
            "something stands foul of the main, short of the clearance point",
        ),
    ]


def test_a_chock_in_its_rack_is_home_only_where_no_car_stands() -> None:
    racked: dict[str, bool | None] = {"creamery-chock.rack": True}
    assert check(racked).clear
    assert told(check(racked | {"creamery.detector": True})) == [
        ("creamery", "creamery-chock", "out", "in its rack, not set, and cars stand on the spur")
    ]
    unknown = told(check(racked | {"creamery.detector": None}))
    assert [state for _, _, state, _ in unknown] == ["unknown", "unknown"]
    assert check({"creamery.detector": True}).clear, "cars may stay on the spur, chocked"


def test_a_key_is_told_with_what_it_fits_and_whose_sheet_it_is_on() -> None:
    job = Job("Foundry turn", "Slate crew", keys=("lower-key",))
    [(place, thing, state, says)] = told(check({"lower-key.hook": False}, jobs=(job,)))
    assert (place, thing, state) == ("keys", "lower-key", "out")
    assert says == (
        "off its hook; it fits Lamp-oil dock, Foundry and Brickyard; on the sheet of Slate crew"
    )
    [(_, _, state, says)] = told(check({"lower-key.hook": None}))
    assert state == "unknown"
    assert says.startswith("not known to be on its hook")


def test_a_foreman_is_out_until_he_has_his_spur_back() -> None:
    assert check(on=board(creamery="not-asked")).clear
    assert told(check(on=board(creamery="released"))) == [
        ("creamery", "creamery", "out", "released, and not handed back")
    ]
    assert not check(on=board(creamery="asked")).clear


def violation(number: int, at: str, spur: str | None, seen: int | None = None) -> ViolationRecord:
    return ViolationRecord(number, 5, 5, "out-of-order", at, spur, (), 1, 5, seen, None)


def test_violations_that_nobody_acknowledged_are_told_at_their_place() -> None:
    seen, unseen = violation(1, "creamery-flag", "creamery", 9), violation(2, "foundry", "foundry")
    elsewhere, ramp = violation(3, "taken-away", None), violation(4, "creamery-ramp", None)
    found = told(check(violations=(ramp, elsewhere, unseen, seen)))
    assert [(place, thing) for place, thing, _, _ in found] == [
        ("creamery", "4"),
        ("foundry", "2"),
        ("elsewhere", "3"),
    ]


def test_a_fault_is_told_once_and_a_lost_contact_with_its_thing() -> None:
    wired = begin(
        {"faults": [["chattering", "foundry-switch.normal"], ["lost", "foundry.fouling"]]}
    )
    found = told(check({"foundry.fouling": None}, on=wired))
    assert [(thing, state) for _, thing, state, _ in found] == [
        ("foundry", "unknown"),
        ("foundry-switch.normal", "unknown"),
    ]


def test_with_a_silent_engine_nothing_is_known_and_all_of_it_is_listed() -> None:
    found = check(live=False)
    assert not found.clear
    assert found.out == 0
    assert "nothing is known" in found.says
    things = {item.thing for place in found.places for item in place.items}
    assert things >= {thing.id for thing in (*LAYOUT.switches, *LAYOUT.keys, *LAYOUT.flags)}
    assert {item.state for place in found.places for item in place.items} == {"unknown"}


def is_home(stand: dict[str, bool | None]) -> bool:
    """The rulebook's "is back while", thing by thing, and every track clear. Unknown is false."""

    def made(contact: Contact | None) -> bool:
        return contact is not None and stand[contact.name] is True

    def clear(contact: Contact | None) -> bool:
        return contact is None or stand[contact.name] is False

    spurs = {spur.id: spur for spur in LAYOUT.spurs}
    homes = [
        made(s.normal) and stand[s.reverse.name] is False and clear(s.detector)
        for s in LAYOUT.switches
    ]
    homes += [made(s.hasp) for s in LAYOUT.switches if s.lock is Lock.PADLOCK]
    for thing in LAYOUT.things:
        match thing:
            case Flag():
                homes.append(stand[thing.rack.name] is False)
            case Gate():
                homes.append(made(thing.shut) and clear(thing.detector))
                homes.append(thing.hasp is None or made(thing.hasp))
            case Derail():
                homes.append(made(thing.on) and clear(thing.detector))
                homes.append(thing.hasp is None or made(thing.hasp))
            case Chock():
                detector = spurs[thing.spur].detector
                empty = detector is not None and stand[detector.name] is False
                set_ = stand[thing.rack.name] is False
                homes.append(set_ or (empty and stand[thing.rack.name] is not None))
            case _:
                pass
    homes += [clear(s.fouling) for s in LAYOUT.spurs]
    homes += [s.detector is None or stand[s.detector.name] is not None for s in LAYOUT.spurs]
    homes += [made(key.hook) for key in LAYOUT.keys]
    return all(homes)


NAMES = st.sampled_from([contact.name for contact in LAYOUT.contacts if contact.role != "button"])


@settings(max_examples=400, deadline=None)
@given(changed=st.dictionaries(NAMES, st.sampled_from([True, False, None]), max_size=4))
def test_clear_is_exactly_the_rulebooks_home(changed: dict[str, bool | None]) -> None:
    assert check(changed).clear is is_home(REST | changed)


@settings(max_examples=100, deadline=None)
@given(name=NAMES, changed=st.dictionaries(NAMES, st.booleans(), max_size=3))
def test_a_contact_that_becomes_unknown_never_makes_a_layout_home(
    name: str, changed: dict[str, bool]
) -> None:
    assert not check({**changed, name: None}).clear

"""Reads the things of a layout, one function for each kind."""

from __future__ import annotations

import re

from firmware_py.layout.errors import shown
from firmware_py.layout.model import (
    FOREMAN,
    Chock,
    Contact,
    Derail,
    Flag,
    ForemanKind,
    Gate,
    Key,
    Lamps,
    Lock,
    Role,
    Spur,
    Switch,
    Trap,
)
from firmware_py.layout.tables import Span, Table, number_of
from firmware_py.layout.wires import Wires, micros

FOREMAN_SECONDS = (20.0, 60.0)
"""How long an automatic foreman takes to answer where the file does not say."""

KMH_FOR_MPH = 1.609344
"""Kilometres in a mile; the international mile is 1609.344 m exactly."""

WAIT = Span("seconds", low=0.0, high=86_400.0)
PERCENT = Span("per cent", low=0.0, high=100.0)
DISTANCE = Span("millimetres", above=0.0, high=100_000.0)
SPEED = Span("scale miles or kilometres per hour", above=0.0, high=1000.0)

_ID = re.compile(r"[a-z][a-z0-9]*(?:-[a-z0-9]+)*")


def read_switch(table: Table, wires: Wires) -> Switch:
    """A ``[[switch]]`` table."""
    thing = read_id(table)
    lock = table.choice("lock", Lock.PADLOCK)
    lamps = table.table("lamps", "{ green = 20, red = 21 }")
    contacts = _contacts(table)
    switch = Switch(
        id=thing,
        name=read_name(table, thing),
        lock=lock,
        key=table.text("key"),
        hasp=_hasp(contacts, wires, thing, lock),
        normal=wires.needed(contacts, thing, Role.NORMAL, "it says the points lie for the main"),
        reverse=wires.needed(contacts, thing, Role.REVERSE, "it says the points lie for the spur"),
        detector=wires.contact(contacts, thing, Role.DETECTOR),
        button=wires.contact(contacts, thing, Role.BUTTON),
        lamps=Lamps(
            green=wires.output(lamps, thing, "green"),
            red=wires.output(lamps, thing, "red"),
            white=wires.output(lamps, thing, "white"),
        ),
        bolt=wires.output(table, thing, "bolt"),
        buzzer=wires.output(table, thing, "buzzer"),
    )
    if lock is Lock.NONE and switch.key is not None:
        table.wrong("key", 'a switch with lock = "none" has no padlock for a key; leave key out')
    _finish(lamps, contacts, table)
    return switch


def read_spur(table: Table, wires: Wires) -> Spur:
    """A ``[[spur]]`` table; the orders are as given, and empty where they were left out."""
    thing = read_id(table)
    contacts = _contacts(table)
    spur = Spur(
        id=thing,
        name=read_name(table, thing),
        switch=table.needed("switch", "the id of the switch that leads to the spur"),
        foreman=table.choice("foreman", ForemanKind.NONE),
        foreman_us=_foreman_range(table),
        opening=table.texts("opening") or (),
        closing=table.texts("closing") or (),
        detector=wires.contact(contacts, thing, Role.DETECTOR),
        fouling=wires.contact(contacts, thing, Role.FOULING),
        grade_percent=table.number("grade_percent", 0.0, PERCENT),
        power=wires.output(table, thing, "power"),
    )
    _finish(contacts, table)
    return spur


def read_gate(table: Table, wires: Wires) -> Gate:
    """A ``[[gate]]`` table."""
    thing = read_id(table)
    contacts = _contacts(table)
    gate = Gate(
        id=thing,
        name=read_name(table, thing),
        spur=_spur(table),
        key=table.text("key"),
        hasp=wires.contact(contacts, thing, Role.HASP),
        shut=wires.needed(contacts, thing, Role.SHUT, "it says the gate is across the track"),
        detector=wires.contact(contacts, thing, Role.DETECTOR),
        lamp=wires.output(table, thing, "lamp"),
        behind=table.text("behind"),
    )
    _finish(contacts, table)
    return gate


def read_derail(table: Table, wires: Wires) -> Derail:
    """A ``[[derail]]`` table."""
    thing = read_id(table)
    contacts = _contacts(table)
    derail = Derail(
        id=thing,
        name=read_name(table, thing),
        spur=_spur(table),
        hasp=wires.contact(contacts, thing, Role.HASP),
        on=wires.needed(contacts, thing, Role.ON, "it says the derail is on the rail"),
        detector=wires.contact(contacts, thing, Role.DETECTOR),
        lamp=wires.output(table, thing, "lamp"),
        behind=table.text("behind"),
    )
    _finish(contacts, table)
    return derail


def read_flag(table: Table, wires: Wires) -> Flag:
    """A ``[[flag]]`` table."""
    thing = read_id(table)
    flag = Flag(
        id=thing,
        name=read_name(table, thing),
        spur=_spur(table),
        rack=_only_contact(table, wires, thing, Role.RACK, "it says the flag is in its rack"),
        lamp=wires.output(table, thing, "lamp"),
        behind=table.text("behind"),
    )
    table.finish()
    return flag


def read_chock(table: Table, wires: Wires) -> Chock:
    """A ``[[chock]]`` table."""
    thing = read_id(table)
    chock = Chock(
        id=thing,
        name=read_name(table, thing),
        spur=_spur(table),
        rack=_only_contact(table, wires, thing, Role.RACK, "it says the chock is in its rack"),
        lamp=wires.output(table, thing, "lamp"),
        behind=table.text("behind"),
    )
    table.finish()
    return chock


def read_key(table: Table, wires: Wires) -> Key:
    """A ``[[key]]`` table."""
    thing = read_id(table)
    name = read_name(table, thing)
    hook = _only_contact(table, wires, thing, Role.HOOK, "it says the key hangs on its hook")
    behind = table.text("behind")
    table.finish()
    return Key(id=thing, name=name, hook=hook, behind=behind)


def read_trap(table: Table, wires: Wires) -> Trap:
    """A ``[[trap]]`` table; a lamp is the one wire that it may have of its own."""
    thing = read_id(table)
    if table.value("distance_mm") is None:
        table.missing("distance_mm", "; write how far the second detector is from the first")
    trap = Trap(
        id=thing,
        name=read_name(table, thing),
        first=table.needed("first", '"kiln-switch.detector", say'),
        second=table.needed("second", '"kiln.detector", say'),
        distance_mm=table.number("distance_mm", 1.0, DISTANCE),
        limit_mph=_limit(table),
        lamp=wires.output(table, thing, "lamp"),
        in_kmh=table.value("limit_kmh") is not None,
    )
    if trap.lamp is not None and trap.limit_mph is None:
        table.wrong("lamp", "a lamp without a limit never lights; add limit_mph, or leave lamp out")
    table.finish()
    return trap


def read_id(table: Table) -> str:
    """The thing's id, empty where there is none."""
    thing = table.needed("id", '"kiln-switch", say')
    if thing == FOREMAN:
        table.wrong(
            "id", 'the id "foreman" is taken; it stands for a spur\'s foreman in the orders'
        )
    elif thing and not _ID.fullmatch(thing):
        right = 'an id is lower-case words joined by hyphens, such as "kiln-switch"'
        table.wrong("id", f"the id {shown(thing)} is not in the right form; {right}")
    return thing


def read_name(table: Table, thing: str) -> str:
    """The thing's name; left out, it is the id with spaces and a capital."""
    words = thing.replace("-", " ")
    return table.text("name") or words[:1].upper() + words[1:]


def _hasp(contacts: Table, wires: Wires, thing: str, lock: Lock) -> Contact | None:
    if lock is Lock.PADLOCK:
        why = 'a padlock needs it (a switch without one says lock = "none")'
        return wires.needed(contacts, thing, Role.HASP, why)
    hasp = wires.contact(contacts, thing, Role.HASP)
    if hasp is not None:
        right = 'leave hasp out, or write lock = "padlock"'
        contacts.wrong("hasp", f'a switch with lock = "none" has no hasp; {right}')
    return None


def _only_contact(table: Table, wires: Wires, thing: str, role: Role, why: str) -> Contact:
    contacts = _contacts(table)
    contact = wires.needed(contacts, thing, role, why)
    contacts.finish()
    return contact


def _contacts(table: Table) -> Table:
    return table.table("contacts", "{ normal = 6, reverse = 13 }")


def _spur(table: Table) -> str:
    return table.needed("spur", "the id of the spur that it protects")


def _foreman_range(table: Table) -> tuple[int, int]:
    value = table.value("foreman_seconds")
    low, high = FOREMAN_SECONDS
    if value is not None:
        if not isinstance(value, list) or len(value) != 2:
            right = "two numbers of seconds such as [20, 60]"
            table.wrong("foreman_seconds", f"foreman_seconds must be {right}, not {shown(value)}")
        else:
            low, high = (
                number_of(table, "foreman_seconds", part, WAIT, default)
                for part, default in zip(value, FOREMAN_SECONDS, strict=True)
            )
            if low > high:
                right = f"write [{high:g}, {low:g}]"
                table.wrong("foreman_seconds", f"foreman_seconds is the wrong way round; {right}")
    return micros(low), micros(high)


def _limit(table: Table) -> float | None:
    mph = _speed(table, "limit_mph")
    kmh = _speed(table, "limit_kmh")
    if mph is not None and kmh is not None:
        table.wrong("limit_kmh", "limit_mph and limit_kmh are both given; keep one of them")
    return mph if kmh is None else kmh / KMH_FOR_MPH


def _speed(table: Table, key: str) -> float | None:
    return None if table.value(key) is None else table.number(key, 1.0, SPEED)


def _finish(*tables: Table) -> None:
    for table in tables:
        table.finish()

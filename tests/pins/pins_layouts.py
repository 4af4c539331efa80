"""A small invented layout that has every kind of wire."""

from firmware_py.layout.model import (
    ChipLine,
    Contact,
    Flag,
    ForemanKind,
    HeaderPin,
    Lamps,
    Layout,
    Lock,
    Output,
    Pin,
    Role,
    Spur,
    Switch,
    Times,
)


def contact(thing: str, role: Role, pin: Pin, inverted: bool = False) -> Contact:
    return Contact(thing, role, pin, 20_000, 20_000, inverted)


def mill(**changed: Pin) -> Layout:
    """Lay the mill out; ``changed`` puts other pins in: hasp, rack, red, bolt."""
    pins: dict[str, Pin] = {
        "hasp": HeaderPin(5),
        "rack": ChipLine("box", 3),
        "red": HeaderPin(21),
        "bolt": HeaderPin(12),
        **changed,
    }
    switch = Switch(
        id="mill-switch",
        name="Mill switch",
        lock=Lock.PADLOCK,
        key=None,
        hasp=contact("mill-switch", Role.HASP, pins["hasp"]),
        normal=contact("mill-switch", Role.NORMAL, HeaderPin(6)),
        reverse=contact("mill-switch", Role.REVERSE, HeaderPin(13), inverted=True),
        lamps=Lamps(
            green=Output(HeaderPin(20)),
            red=Output(pins["red"]),
            white=Output(HeaderPin(16), inverted=True),
        ),
        bolt=Output(pins["bolt"]),
        buzzer=Output(HeaderPin(18)),
    )
    spur = Spur(
        id="mill",
        name="Mill",
        switch="mill-switch",
        foreman=ForemanKind.NONE,
        foreman_us=(0, 0),
        opening=("mill-flag", "mill-switch"),
        closing=("mill-flag", "mill-switch"),
        power=Output(HeaderPin(17)),
    )
    flag = Flag(
        id="mill-flag",
        name="Mill flag",
        spur="mill",
        rack=contact("mill-flag", Role.RACK, pins["rack"]),
        lamp=Output(ChipLine("box", 8)),
    )
    return Layout(
        name="Mill",
        ratio=87.1,
        scale="HO",
        chock_from_percent=0.5,
        clock_ratio=6.0,
        times=Times(),
        switches=(switch,),
        spurs=(spur,),
        flags=(flag,),
    )

"""Random valid layouts (section 2) as the dicts that tomllib gives, and their TOML text."""

from __future__ import annotations

import json
from collections.abc import Iterator
from random import Random
from typing import Any

from .plan import read_plan

Table = dict[str, Any]

PLACES = ("kiln", "quarry", "orchard", "cannery", "sawmill", "brickyard", "tannery", "icehouse",
          "silo", "foundry", "harbor", "pit")  # fmt: skip
WORDS = ("upper", "lower", "inner", "outer", "near", "far")

# Small and zero times are where deadlines fall on the same instant as what started them.
TIMES = {
    "settle": (0, 0.001, 0.02, 0.02, 0.05, 0.3),
    "clear_after": (0, 0.02, 0.5, 2.0, 2, 6.5),
    "throw": (0, 0.02, 0.75, 3, 5.0),
    "restore_within": (0, 1, 10.0, 60, 600.0),
    "relock_within": (0, 2.0, 20, 120.0),
    "return_within": (0, 2.0, 30, 120.0),
    "repeat_within": (0, 0.5, 10.0, 45),
}
OWN_SETTLES = (0, 0.0005, 0.05, 0.25, 1.5)


class Pins:
    """Deals out pins so that none is given twice."""

    def __init__(self, rng: Random) -> None:
        self.rng = rng
        self.bcm = list(range(4, 28))
        rng.shuffle(self.bcm)
        self.lines = iter(range(10_000))

    def contact(self) -> int | str | Table:
        """Write a contact's value in any of the ways of section 2."""
        way = self.rng.random()
        if way < 0.4:
            return "auto"
        pin = self._bcm() if way < 0.6 else self._line()
        if way < 0.8:
            return pin
        table: Table = {"pin": pin}
        if self.rng.random() < 0.7:
            table["settle"] = self.rng.choice(OWN_SETTLES)
        if self.rng.random() < 0.3:
            table["inverted"] = self.rng.random() < 0.5
        return table

    def output(self) -> int | None:
        """Deal a BCM number for a lamp, bolt, relay or buzzer while there is one left."""
        return self.bcm.pop() if self.bcm else None

    def _bcm(self) -> int | str:
        # Half of the header is kept for outputs, which have no other way to be written.
        return self.bcm.pop() if len(self.bcm) > 12 else self._line()

    def _line(self) -> str:
        number = next(self.lines)
        return f"gpiochip{number // 16 + 1}:{number % 16}"


class Builder:
    """Builds one layout; the chances are such that every optional thing is absent now and then."""

    def __init__(self, rng: Random) -> None:
        self.rng = rng
        self.pins = Pins(rng)
        self.places = list(PLACES)
        rng.shuffle(self.places)
        self.layout: Table = {}

    def chance(self, share: float) -> bool:
        """Say yes in that share of cases."""
        return self.rng.random() < share

    def contacts(self, needed: tuple[str, ...], optional: tuple[str, ...] = ()) -> Table:
        """Needed roles always, optional ones two times in three."""
        roles = [*needed, *(role for role in optional if self.chance(0.67))]
        return {role: self.pins.contact() for role in roles}

    def put_output(self, table: Table, key: str, share: float) -> None:
        """Perhaps an output, while the header has pins left."""
        if self.chance(share):
            pin = self.pins.output()
            if pin is not None:
                table[key] = pin

    def add(self, kind: str, table: Table) -> None:
        """One more table of its kind."""
        self.layout.setdefault(kind, []).append(table)

    def build(self) -> Table:
        """Build the whole layout."""
        head: Table = {"name": "Random Landing"}
        if self.chance(0.5):
            head["scale"] = "HO"
        else:
            head["ratio"] = self.rng.choice((87.1, 48, 160.0, 22.5))
        if self.chance(0.4):
            head["chock_from_percent"] = self.rng.choice((0.0, 0.5, 1.0, 2))
        if self.chance(0.4):
            head["clock_ratio"] = self.rng.choice((1, 4, 6, 12.5))
        self.layout["layout"] = head
        if self.chance(0.8):
            self.layout["times"] = {
                key: self.rng.choice(values) for key, values in TIMES.items() if self.chance(0.7)
            }
        for _ in range(self.rng.choice((1, 1, 1, 2, 2, 3))):
            self.switch(self.places.pop())
        self.traps()
        return self.layout

    def key(self, place: str) -> str:
        """Give a place a key of its own, added once."""
        name = f"{place}-key"
        if name not in [table["id"] for table in self.layout.get("key", [])]:
            self.add("key", {"id": name, "contacts": self.contacts(("hook",))})
        return name

    def switch(self, place: str) -> None:
        """Add a switch with no, one or two spurs behind it."""
        table: Table = {"id": f"{place}-switch", "name": f"{place.title()} switch"}
        padlock = self.chance(0.75)
        if not padlock or self.chance(0.5):
            table["lock"] = "padlock" if padlock else "none"
        if padlock and self.chance(0.7):
            table["key"] = self.key(place)
        needed = ("hasp", "normal", "reverse") if padlock else ("normal", "reverse")
        table["contacts"] = self.contacts(needed, ("detector", "detector", "button"))
        if self.chance(0.6):
            lamps: Table = {}
            for colour in ("green", "red", "white"):
                self.put_output(lamps, colour, 0.8)
            if lamps:
                table["lamps"] = lamps
        self.put_output(table, "bolt", 0.5)
        self.put_output(table, "buzzer", 0.5)
        self.add("switch", table)
        for _ in range(self.rng.choice((0, 1, 1, 1, 1, 1, 1, 2, 2))):
            self.spur(place if self.chance(0.5) and place not in self.taken() else self.new_place(),
                      table["id"])  # fmt: skip

    def taken(self) -> set[str]:
        """List the spur ids given so far."""
        return {table["id"] for table in self.layout.get("spur", [])}

    def new_place(self) -> str:
        """Take a place name that no id begins with yet."""
        return self.places.pop()

    def spur(self, place: str, switch: str) -> None:
        """Add a spur with all sorts of protections, in an order of its own or the default one."""
        table: Table = {"id": place, "switch": switch}
        foreman = self.rng.choice(("host", "host", "auto", "none", None))
        if foreman is not None:
            table["foreman"] = foreman
        if foreman == "auto":
            table["foreman_seconds"] = self.rng.choice(([20, 60], [0.5, 4.0]))
        contacts = self.contacts((), ("detector", "detector", "fouling"))
        if contacts:
            table["contacts"] = contacts
        if self.chance(0.7):
            table["grade_percent"] = self.rng.choice((0.0, 0.4, 0.5, 1.2, 2))
        self.put_output(table, "power", 0.5)
        self.add("spur", table)
        for kind, roles, optional in (
            ("gate", ("shut",), ("hasp", "detector")),
            ("derail", ("on",), ("hasp", "detector")),
            ("flag", ("rack",), ()),
            ("chock", ("rack",), ()),
        ):
            names = [f"{place}-{kind}"] + [f"{place}-{kind}-{word}" for word in WORDS]
            for name in names[: self.rng.choice((0, 0, 1, 1, 1, 2))]:
                thing: Table = {"id": name, "spur": place}
                thing["contacts"] = self.contacts(roles, optional)
                if kind == "gate" and "hasp" in thing["contacts"] and self.chance(0.5):
                    thing["key"] = self.key(self.rng.choice((place, switch)))
                if kind == "flag":
                    self.put_output(thing, "lamp", 0.4)
                self.add(kind, thing)
        # The default order read back from the layout is exactly the protections of the spur.
        protections = read_plan(self.layout).opening[place]
        for key in ("opening", "closing"):
            if self.chance(0.4):
                table[key] = self.rng.sample(protections, len(protections))

    def traps(self) -> None:
        """Add traps between any two detectors, close enough to be passed too fast now and then."""
        detectors = [name for name in read_plan(self.layout).contacts if name.endswith(".detector")]
        for name in ("approach", "exit")[: self.rng.choice((0, 1, 1, 2))]:
            if len(detectors) < 2:
                return
            first, second = self.rng.sample(detectors, 2)
            trap: Table = {"id": name, "first": first, "second": second}
            trap["distance_mm"] = self.rng.choice((305.0, 150, 40.5))
            trap[self.rng.choice(("limit_mph", "limit_kmh"))] = self.rng.choice((5, 10.0, 16.1))
            self.put_output(trap, "lamp", 0.4)
            self.add("trap", trap)


def layout_at_random(rng: Random) -> Table:
    """Make a random valid layout, as tomllib would give it."""
    return Builder(rng).build()


def _value(value: object) -> str:
    """Write one TOML value on one line."""
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {_value(item)}" for key, item in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(_value(item) for item in value) + "]"
    if isinstance(value, bool):
        return "true" if value else "false"
    # JSON writes strings of plain letters, whole numbers and floats just as TOML does.
    return json.dumps(value)


def _toml_lines(layout: Table) -> Iterator[str]:
    for kind, content in layout.items():
        for table in content if isinstance(content, list) else [content]:
            yield f"[[{kind}]]" if isinstance(content, list) else f"[{kind}]"
            for key, value in table.items():
                yield f"{key} = {_value(value)}"
            yield ""


def layout_as_toml(layout: Table) -> str:
    """Write the layout as a layout file."""
    return "\n".join(_toml_lines(layout))

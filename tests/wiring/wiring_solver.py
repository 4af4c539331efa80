"""The rules of places a second time, as constraints for a solver (OR-tools CP-SAT).

Written from the facts about header, expanders and outputs, and from nothing of the planner: wires
are rows, places are columns, and a solver says whether the two can be matched.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace

from ortools.sat.python import cp_model

from firmware_py.layout.model import ChipLine, Contact, Flag, HeaderPin, Layout, Output, outputs_of

COILS = {"bolt", "power"}
DARLINGTON_INPUT_UA = 1100
ALL_PINS_UA = 50_000


@dataclass(frozen=True)
class Row:
    """A wire: its name, what it is, its pin, and microamperes from a header pin."""

    name: str
    contact: bool
    coil: bool
    inverted: bool
    buzzer: bool
    ua: int
    pin: object


def rows_of(layout: Layout) -> list[Row]:
    rows = []
    for thing in layout.things:
        for contact in thing.contacts:
            rows.append(_contact(contact))
        for key, output in outputs_of(thing):
            blue = isinstance(thing, Flag)
            rows.append(_output(layout, thing.id, key, output, blue))
    return rows


def _contact(contact: Contact) -> Row:
    return Row(contact.name, True, False, False, False, 0, contact.pin)


def _output(layout: Layout, thing: str, key: str, output: Output, blue: bool) -> Row:
    """Red and green LEDs leave enough of 3.3 V; white and blue ones want a driver."""
    led_ma = layout.wiring.led_ma or 3
    direct = key in ("red", "green") and led_ma <= 3
    ua = int(led_ma * 1000) if direct else DARLINGTON_INPUT_UA
    name = f"{key} of {thing}"
    return Row(name, False, key in COILS, output.inverted, key == "buzzer", ua, output.pin)


def header_of(layout: Layout, expanders: str) -> set[int]:
    free = set(range(4, 28))  # 0 and 1 are reserved, 2 and 3 are I2C with fixed pull-ups.
    if layout.wiring.serial_console is not False:
        free -= {14, 15}
    if expanders == "spi" or any(chip.kind == "mcp23s17" for chip in layout.chips):
        free -= {7, 8, 9, 10, 11}
    return free - set(layout.wiring.keep)


def allowed_on_header(row: Row, bcm: int) -> bool:
    if row.contact:
        return True
    if bcm in (14, 15):
        return False
    if row.inverted:
        return not (row.coil or row.buzzer)
    return bcm >= 9  # Pulled down at power-on.


def allowed_on_chip(row: Row, kind: str, line: int) -> bool:
    if row.contact:
        return kind == "mcp23s17" or line not in (7, 15)
    return not row.coil and not (row.buzzer and row.inverted)


def chips_at_most(layout: Layout, expanders: str) -> list[str]:
    """The kinds of the chips that there may be at most, those of the layout first."""
    kinds = [str(chip.kind.value) for chip in layout.chips]
    if expanders == "i2c" and not _wired(layout, {2, 3}):
        kinds += ["mcp23017"] * (8 - kinds.count("mcp23017"))
    if expanders == "spi" and not _wired(layout, {7, 8, 9, 10, 11}):
        kinds += ["mcp23s17"] * (16 - kinds.count("mcp23s17"))
    return kinds


def _wired(layout: Layout, pins: set[int]) -> bool:
    wired = {row.pin.bcm for row in rows_of(layout) if isinstance(row.pin, HeaderPin)}
    return bool((wired | set(layout.wiring.keep)) & pins)


def fewest_chips(layout: Layout, expanders: str) -> int | None:
    """The fewest chips that have to be added; None if no plan exists.

    Wires that are alike share a row and lines that are alike a column, both with a count: a
    solver would otherwise spend its time on swapping twins.
    """
    kinds = chips_at_most(layout, expanders)
    rows = rows_of(layout)
    sorts = Counter(replace(row, name="") for row in rows if row.pin is None)
    model = cp_model.CpModel()
    there = len(layout.chips)
    added = model.new_int_var(0, len(kinds) - there, "added")
    header = header_of(layout, expanders)
    header -= {row.pin.bcm for row in rows if isinstance(row.pin, HeaderPin)}
    places = [(bcm, bcm, None, 1) for bcm in sorted(header)]
    for name, kind, line, size in _lines(layout, rows):
        places.append((name, line, kind, size))
    if len(kinds) > there:
        kind = kinds[-1]
        sizes = ((7, 2), (0, 14)) if kind == "mcp23017" else ((0, 16),)
        places += [(f"new {line}", line, kind, added * size) for line, size in sizes]
    given: dict[Row, list[cp_model.IntVar]] = {sort: [] for sort in sorts}
    current = []
    for name, at, kind, size in places:
        column = []
        for sort, count in sorts.items():
            fit = allowed_on_chip(sort, kind, at) if kind else allowed_on_header(sort, at)
            if fit:
                var = model.new_int_var(0, count, f"{name}")
                column.append(var)
                given[sort].append(var)
                if kind is None:
                    current.append(sort.ua * var)
        model.add(sum(column) <= size)
    for sort, count in sorts.items():
        if not given[sort]:
            return None
        model.add(sum(given[sort]) == count)
    on_header = sum(r.ua for r in rows if isinstance(r.pin, HeaderPin))
    model.add(sum(current) <= max(0, ALL_PINS_UA - on_header))
    model.minimize(added)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    status = solver.solve(model)
    assert status in (cp_model.OPTIMAL, cp_model.INFEASIBLE), solver.status_name(status)
    return None if status == cp_model.INFEASIBLE else round(solver.objective_value)


def _lines(layout: Layout, rows: list[Row]) -> list[tuple[str, str, int, int]]:
    """The free lines of the layout's chips: name, kind, a line that is like them, how many."""
    used = {(r.pin.chip, r.pin.line) for r in rows if isinstance(r.pin, ChipLine)}
    found = []
    for chip in layout.chips:
        free = [line for line in range(16) if (chip.id, line) not in used]
        for like, lines in ((7, (7, 15)), (0, (*range(7), *range(8, 15)))):
            size = sum(line in lines for line in free)
            found.append((f"{chip.id} {like}", chip.kind.value, like, size))
    return found


def broken_rules(before: Layout, after: Layout, expanders: str) -> list[str]:
    """What a planned layout does against the rules, judging wires that had no pin before."""
    broken = []
    old = {row.name: row.pin for row in rows_of(before)}
    chips = {chip.id: chip for chip in after.chips}
    header = header_of(before, expanders)
    rows = rows_of(after)
    for row in rows:
        if old[row.name] is not None:
            if row.pin != old[row.name]:
                broken.append(f"{row.name} was moved")
            continue
        match row.pin:
            case HeaderPin(bcm):
                if bcm not in header or not allowed_on_header(row, bcm):
                    broken.append(f"{row.name} on GPIO {bcm}")
            case ChipLine(chip, line):
                kind = chips[chip].kind.value if chip in chips else "none"
                if kind == "none" or line > 15 or not allowed_on_chip(row, kind, line):
                    broken.append(f"{row.name} on {chip}:{line}")
            case _:
                broken.append(f"{row.name} has no pin")
    pins = [row.pin for row in rows]
    if len(set(pins)) != len(pins):
        broken.append("a pin is given twice")
    news = [r for r in rows if old[r.name] is None and isinstance(r.pin, HeaderPin)]
    total = sum(r.ua for r in rows if isinstance(r.pin, HeaderPin))
    if sum(r.ua for r in news) and total > ALL_PINS_UA:
        broken.append(f"{total} uA on the header")
    places = [(c.kind, c.address, c.bus, c.select) for c in after.chips]
    if len(set(places)) != len(places) or any(not 0x20 <= c.address <= 0x27 for c in after.chips):
        broken.append("addresses")
    return broken

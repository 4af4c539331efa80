"""Writes a first layout file from a few answers, with comments that teach the format."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass, field

from firmware_py.layout.model import FOREMAN, ForemanKind
from firmware_py.layout.scales import DEFAULT

INPUTS = (4, 5, 6, 7, 8, 9, 10, 11, 12, 13, *range(16, 28))
"""Header pins that suit a contact, the ones that suit nothing else first."""

OUTPUTS = (*range(9, 14), *range(16, 28))
"""Header pins that are pulled down at power-on, so that a driver stays off while the Pi boots."""


@dataclass(frozen=True, slots=True)
class SpurAnswers:
    """What the builder said about one spur."""

    name: str
    padlock: bool = True
    gate: bool = False
    derail: bool = False
    flags: int = 1
    chock: bool = False
    grade_percent: float = 0.0
    foreman: ForemanKind = ForemanKind.HOST


@dataclass(frozen=True, slots=True)
class Answers:
    """What the builder said about the layout."""

    name: str
    scale: str = DEFAULT
    spurs: tuple[SpurAnswers, ...] = ()


@dataclass(slots=True)
class _Table:
    """One table to be written; contacts and outputs get their pins when all are known."""

    kind: str
    lines: list[str]
    contacts: list[str]
    lamps: list[str] = field(default_factory=list)
    comment: str = ""


def layout_text(answers: Answers) -> str:
    """The text of a layout file that says what the answers say."""
    ids = _Ids()
    tables = [table for spur in answers.spurs for table in _spur_tables(spur, ids)]
    contacts = _pins(INPUTS, [len(table.contacts) for table in tables], taken=set())
    taken = {pin for pins in contacts for pin in pins if pin != "auto"}
    lamps = _pins(OUTPUTS, [len(table.lamps) for table in tables], taken)
    parts = [_heading(answers)]
    for table, inputs, outputs in zip(tables, contacts, lamps, strict=True):
        parts.append("\n".join(_table_lines(table, inputs, outputs)))
    return "\n\n".join(parts) + "\n"


def _heading(answers: Answers) -> str:
    return f"""\
# A layout for Spurlock. "spurlock check" reads it back and says what it makes of it.
#
# Contacts are given as BCM numbers of the Pi's header: 4 to 13 and 16 to 27, each used once.
# "auto" means that a wire has no pin yet ("spurlock plan" finds one); "chip:line" is a line of
# another input/output chip. One that works the wrong way round is {{ pin = 5, inverted = true }}.
# Low voltage only, from listed and fused supplies; track power never goes to a pin. Everything
# here is for a scale layout, never for a real railway.

[layout]
name = {_quoted(answers.name)}
scale = {_quoted(answers.scale)}
chock_from_percent = 0.5   # from this grade on, standing cars must be chocked
clock_ratio = 6            # layout minutes for each real minute

[times]                    # seconds; these are the defaults
settle = 0.02              # how long a contact must hold still to be believed
clear_after = 2.0          # how long a detector must be clear to be believed
throw = 5.0                # how long points may take from one side to the other
restore_within = 600.0     # how long a switch may stand lined with nobody about
relock_within = 120.0      # how long a switch may stand normal but unlocked
return_within = 120.0      # how long after locking everything else must be back
repeat_within = 10.0       # the same violation again within this is counted, not listed"""


def _spur_tables(spur: SpurAnswers, ids: _Ids) -> Iterator[_Table]:
    spur_id = ids.new(spur.name)
    switch_id = ids.new(f"{spur_id}-switch")
    yield _switch(spur, switch_id)
    yield _spur(spur, spur_id, switch_id)
    owner = f"spur = {_quoted(spur_id)}"
    if spur.gate:
        yield _Table("gate", [_id(ids.new(f"{spur_id}-gate")), owner], ["hasp", "shut"])
    if spur.derail:
        derail = _id(ids.new(f"{spur_id}-derail"))
        yield _Table("derail", [derail, owner], ["hasp", "on"])
    for number in range(spur.flags):
        tail = "flag" if spur.flags == 1 else f"flag-{number + 1}"
        comment = "" if number else "out of its rack the flag counts as displayed"
        flag = _id(ids.new(f"{spur_id}-{tail}"))
        yield _Table("flag", [flag, owner], ["rack"], comment=comment)
    if spur.chock:
        comment = "out of its rack the chock counts as set against a wheel"
        chock = _id(ids.new(f"{spur_id}-chock"))
        yield _Table("chock", [chock, owner], ["rack"], comment=comment)


def _switch(spur: SpurAnswers, switch_id: str) -> _Table:
    lock = 'lock = "padlock"' if spur.padlock else 'lock = "none"'
    return _Table(
        "switch",
        [_id(switch_id), f"name = {_quoted(f'{spur.name} switch')}", lock],
        [*(["hasp"] if spur.padlock else []), "normal", "reverse", "detector"],
        ["green", "red", "white"],
        comment=f"--- {spur.name} ---",
    )


def _spur(spur: SpurAnswers, spur_id: str, switch_id: str) -> _Table:
    lines = [
        _id(spur_id),
        f"name = {_quoted(spur.name)}",
        f"switch = {_quoted(switch_id)}",
        f"foreman = {_quoted(spur.foreman)}",
    ]
    if spur.foreman is ForemanKind.AUTO:
        lines.append("foreman_seconds = [20, 60]   # how long the foreman takes to answer")
    if spur.grade_percent:
        lines.append(f"grade_percent = {spur.grade_percent!r}")
    comment = "opening and closing, the orders of its protections, are left at their defaults"
    return _Table("spur", lines, ["detector"], comment=comment)


def _table_lines(table: _Table, inputs: list[str], outputs: list[str]) -> Iterator[str]:
    if table.comment:
        yield f"# {table.comment}"
    yield f"[[{table.kind}]]"
    yield from table.lines
    yield f"contacts = {_inline(table.contacts, inputs)}"
    if table.lamps:
        yield f"lamps = {_inline(table.lamps, outputs)}"


def _inline(names: list[str], pins: list[str]) -> str:
    pairs = ", ".join(f"{name} = {pin}" for name, pin in zip(names, pins, strict=True))
    return f"{{ {pairs} }}"


def _pins(fit: tuple[int, ...], counts: list[int], taken: set[str]) -> list[list[str]]:
    """Pins for each table's wires, as TOML; "auto" once the fit ones have run out."""
    free = (str(pin) for pin in fit if str(pin) not in taken)
    return [[next(free, '"auto"') for _ in range(count)] for count in counts]


def _id(thing: str) -> str:
    return f"id = {_quoted(thing)}"


def _quoted(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'


class _Ids:
    """Hands out ids made from names, each once."""

    def __init__(self) -> None:
        self._given = {FOREMAN}

    def new(self, name: str) -> str:
        plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
        words = re.findall("[a-z0-9]+", plain.replace("'", ""))
        base = "-".join(words) or "spur"
        if not base[0].isalpha():
            base = f"spur-{base}"
        thing, number = base, 1
        while thing in self._given:
            number += 1
            thing = f"{base}-{number}"
        self._given.add(thing)
        return thing

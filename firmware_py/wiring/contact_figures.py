"""Figures of contacts: pull-ups and wetting current, levels, RC filter and leads."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from firmware_py.layout.model import ChipLine, Contact, HeaderPin, Layout, Role
from firmware_py.wiring.assumed import Assumed
from firmware_py.wiring.figure import Figure, plain
from firmware_py.wiring.formulas import divided, fall_s, lead_ohms, rise_s
from firmware_py.wiring.header import PADS
from firmware_py.wiring.lamps import SUPPLY_V

SERIES_OHM, FILTER_F = 1_000.0, 100e-9
"""The filter at the entry of a long lead; see `LEADS`."""

WETTING_A = 0.001
"""What a snap-action micro-load switch is specified from, at 5 V (Omron SS data sheet)."""

MCP_LOW, MCP_HIGH = 0.2, 0.8
"""Levels of an MCP23017 or MCP23S17 as shares of its supply (Microchip DS20001952)."""

PLAIN_LEAD_M, FILTERED_LEAD_M = 1.0, 10.0
LEADS = (
    (PLAIN_LEAD_M, "a twisted pair for each contact, with its own return"),
    (
        FILTERED_LEAD_M,
        "twisted pairs; 1 kohm in series between pull-up and pin, 100 nF from pin to ground",
    ),
    (
        float("inf"),
        "twisted pairs, shield grounded at one end, 1 kohm, 100 nF and a TVS diode at the entry, "
        "or an opto-isolator",
    ),
)


@dataclass(frozen=True, slots=True)
class Make:
    """How contacts of a kind are usually made."""

    name: str
    pull_up_ohm: float
    wets: bool
    why: str


MICRO = Make("micro switches", 2_200.0, True, "1 mA wets it: Omron SS data sheet")
REED = Make("reeds", 10_000.0, False, "reeds need less: from memory")
OPTO = Make("opto-couplers", 10_000.0, False, "current falls with age: from memory")

MAKES: Mapping[Role, Make] = {
    **dict.fromkeys((Role.HASP, Role.NORMAL, Role.REVERSE, Role.ON, Role.HOOK, Role.BUTTON), MICRO),
    **dict.fromkeys((Role.SHUT, Role.RACK), REED),
    **dict.fromkeys((Role.DETECTOR, Role.FOULING), OPTO),
}


@dataclass(frozen=True, slots=True)
class Levels:
    """What one sort of input takes for low and high, in volts."""

    name: str
    low_v: float
    high_v: float
    source: str
    assumed: tuple[str, ...] = ()


def contact_figures(layout: Layout) -> Iterator[Figure]:
    """Figures for each make of contact, each sort of input, and the leads."""
    contacts = layout.contacts
    yield _internal(layout)
    for make in (MICRO, REED, OPTO):
        fitted = [contact for contact in contacts if MAKES[contact.role] is make]
        if fitted:
            yield _wetting(layout, make, len(fitted))
    for levels in levels_of(layout):
        yield from _filter(layout, levels)
    yield _leads(layout)


def pull_up_a(layout: Layout) -> float:
    """Amperes through all pull-ups when every contact is closed."""
    told = Assumed(layout.wiring)
    return sum(SUPPLY_V / told.pull_up(MAKES[c.role].pull_up_ohm) for c in layout.contacts)


def levels_of(layout: Layout) -> list[Levels]:
    """The sorts of input that the layout uses; the header's while nothing is planned."""
    told = Assumed(layout.wiring)
    pins = [contact.pin for contact in layout.contacts]
    found = []
    if any(isinstance(pin, HeaderPin) for pin in pins) or None in pins:
        pi = told.pi()
        pads = PADS[pi]
        assumed = (*told.names, *pads.assumed)
        found.append(Levels(f"header of a Pi {pi}", pads.low_v, pads.high_v, pads.source, assumed))
    if any(isinstance(pin, ChipLine) for pin in pins):
        low, high = MCP_LOW * SUPPLY_V, MCP_HIGH * SUPPLY_V
        described = {chip.id for chip in layout.chips}
        strange = any(isinstance(pin, ChipLine) and pin.chip not in described for pin in pins)
        assumed = ("chips without a [[chip]] table are MCP23017 or MCP23S17",) if strange else ()
        found.append(Levels("expanders at 3.3 V", low, high, "Microchip DS20001952", assumed))
    return found


def _internal(layout: Layout) -> Figure:
    told = Assumed(layout.wiring)
    pi = told.pi()
    pads = PADS[pi]
    least, most = SUPPLY_V / pads.pull_most_ohm, SUPPLY_V / pads.pull_least_ohm
    ohms = f"{pads.pull_least_ohm / 1000:g} to {pads.pull_most_ohm / 1000:g} kohm"
    return Figure(
        "contacts",
        f"current of a Pi {pi}'s own pull-up",
        f"{plain(least, 'A')} to {plain(most, 'A')}",
        f"3.3 V / {ohms}: too little to wet a micro switch, so fit external ones",
        pads.source,
        (*told.names, *pads.assumed),
    )


def _wetting(layout: Layout, make: Make, count: int) -> Figure:
    told = Assumed(layout.wiring)
    ohms = told.pull_up(make.pull_up_ohm)
    amperes = SUPPLY_V / ohms
    wrong = None
    if make.wets and amperes < WETTING_A:
        wrong = "below the 1 mA that wets a micro switch: pull_up_ohm = 2200, say"
    return Figure(
        f"{make.name} ({count})",
        f"wetting current through {plain(ohms, 'ohm')} to 3.3 V",
        plain(amperes, "A"),
        f"3.3 V / {plain(ohms, 'ohm')}",
        make.why,
        told.names,
        wrong,
    )


def _filter(layout: Layout, levels: Levels) -> Iterator[Figure]:
    told = Assumed(layout.wiring)
    pull = max(told.pull_up(MAKES[c.role].pull_up_ohm) for c in _at(layout, levels))
    opens = rise_s(pull + SERIES_OHM, FILTER_F, SUPPLY_V, levels.high_v)
    closes = fall_s(SERIES_OHM, FILTER_F, SUPPLY_V, levels.low_v)
    settle = min(contact.settle_us for contact in _at(layout, levels)) / 1e6
    yield Figure(
        levels.name,
        "delay of the filter of a long lead, opening and closing",
        f"{plain(opens, 's')} and {plain(closes, 's')}",
        f"R C ln(V / (V - VT+)) with R = {plain(pull + SERIES_OHM, 'ohm')}, VT+ = "
        f"{levels.high_v:.3g} V; R C ln(V / VT-) with R = 1 kohm, VT- = {levels.low_v:.3g} V; "
        "C = 100 nF",
        f"RC charging; levels: {levels.source}",
        (*told.names, *levels.assumed),
        f"longer than the settle time of {plain(settle, 's')}: lower pull_up_ohm or lengthen settle"
        if max(opens, closes) > settle > 0
        else None,
    )
    lead = lead_ohms(told.plain("lead_m"), told.plain("wire_mm2"))
    least = min(told.pull_up(MAKES[c.role].pull_up_ohm) for c in _at(layout, levels))
    volts = divided(SUPPLY_V, least, lead)
    yield Figure(
        levels.name,
        "level of a closed contact at the end of its lead",
        plain(volts, "V"),
        f"3.3 V x {lead:.3g} / ({least:g} + {lead:.3g}) ohm, below {levels.low_v:.3g} V",
        f"copper 0.0175 ohm mm2/m, from memory; levels: {levels.source}",
        (*told.names, *levels.assumed),
        None if volts < levels.low_v else "use thicker wire or a larger pull-up",
    )


def _at(layout: Layout, levels: Levels) -> Sequence[Contact]:
    on_chips = levels.name.startswith("expanders")
    return [c for c in layout.contacts if isinstance(c.pin, ChipLine) is on_chips]


def _leads(layout: Layout) -> Figure:
    told = Assumed(layout.wiring)
    metres = told.plain("lead_m")
    advice = next(text for most, text in LEADS if metres <= most)
    return Figure(
        "leads",
        f"{metres:g} m from stand to Pi",
        advice,
        f"to {PLAIN_LEAD_M:g} m plain, to {FILTERED_LEAD_M:g} m filtered, beyond that protected; "
        "I2C stays in the box, below 0.5 m",
        "common practice; filter and TVS: a maker's application notes; I2C: 400 pF bus limit",
        told.names,
    )

"""A plan and the electrical figures as lines for a terminal of 80 columns."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby
from textwrap import wrap

from firmware_py.layout.electrics import Chip, ChipKind
from firmware_py.layout.errors import printable
from firmware_py.layout.model import ChipLine, Layout
from firmware_py.layout.wires import pin_name
from firmware_py.wiring.figure import Figure
from firmware_py.wiring.header import SERIAL
from firmware_py.wiring.planning import Plan

WIDTH = 79


def plan_lines(layout: Layout, plan: Plan) -> Iterator[str]:
    """What is placed where: a heading, the chips to add, a row for each wire, what to know."""
    if plan.reasons:
        waiting = sum(wire.pin is None for wire in plan.wires)
        yield printable(f"{layout.name}: no plan for the {waiting} wires without a pin, since")
        for reason in plan.reasons:
            yield from _wrapped("  - ", reason)
        return
    kept = len(plan.wires) - len(plan.placed)
    chips = f"; chips to add: {len(plan.chips)}" if plan.chips else ""
    yield printable(f"{layout.name}: {len(plan.placed)} wires get a pin, {kept} keep theirs{chips}")
    for chip in plan.chips:
        yield f"  add {chip_name(chip)}"
    yield ""
    yield from _rows(plan)
    yield from _notes(layout, plan)


def chip_name(chip: Chip) -> str:
    """A chip with its bus and its address: ``io-1: MCP23017, I2C bus 1, address 0x20``."""
    bus = f"I2C bus {chip.bus}"
    if chip.kind is ChipKind.MCP23S17:
        bus = f"SPI bus {chip.bus}, chip-select {chip.select}"
    return f"{chip.id}: {chip.kind.value.upper()}, {bus}, address 0x{chip.address:02x}"


def figure_lines(figures: Sequence[Figure]) -> Iterator[str]:
    """Every figure with formula and source; neighbours that share these say them once."""
    yield "Electrical figures (low voltage only; fuses and listed supplies):"

    def shared(figure: Figure) -> tuple[str, str, tuple[str, ...]]:
        return figure.formula, figure.source, figure.assumed

    for (formula, source, assumed), alike in groupby(figures, shared):
        for figure in alike:
            yield from _wrapped("  ", f"{figure.about}: {figure.what}: {figure.value}")
            if figure.wrong:
                yield from _wrapped("    WRONG: ", figure.wrong)
        yield from _wrapped("      = ", formula)
        yield from _wrapped("      from ", source)
        if assumed:
            yield from _wrapped("      assumed: ", ", ".join(assumed))


def fault_lines(faults: Sequence[Figure]) -> Iterator[str]:
    """A line for each figure that is wrong; none if all are right."""
    if faults:
        yield "Electrical:"
    for figure in faults:
        what = f"{figure.about}: {figure.what}: {figure.value}"
        yield from _wrapped("  ", f"{what} ({figure.formula}): {figure.wrong}")


def _rows(plan: Plan) -> Iterator[str]:
    new = {wire.id for wire in plan.placed}
    stand = max((len(wire.stand) for wire in plan.wires), default=0)
    place = max((len(pin_name(wire.pin)) for wire in plan.wires), default=0)
    yield f"{'STAND':<{stand}}  {'PIN':<{place}}        WIRE".rstrip()
    last = ""
    for wire in plan.wires:
        shown = wire.stand if wire.stand != last else ""
        mark = "new " if wire.id in new else "kept"
        yield f"{shown:<{stand}}  {pin_name(wire.pin):<{place}}  {mark}  {wire.name}"
        last = wire.stand


def _notes(layout: Layout, plan: Plan) -> Iterator[str]:
    if plan.split:
        yield ""
        yield from _wrapped("Contacts on more than one board: ", ", ".join(plan.split))
    described = {chip.id for chip in (*layout.chips, *plan.chips)}
    strangers = {
        wire.pin.chip
        for wire in plan.wires
        if isinstance(wire.pin, ChipLine) and wire.pin.chip not in described
    }
    if strangers and plan.chips:
        text = (
            f"{', '.join(sorted(strangers))} have no [[chip]] table, so their addresses are not "
            "known; see that no new one has the same"
        )
        yield from _wrapped("Note: ", text)
    if any(wire.pin is not None and pin_name(wire.pin) in _SERIAL for wire in plan.placed):
        text = "GPIO 14 is driven high while the Pi boots: 1 kohm in series with a contact on it"
        yield from _wrapped("Note: ", text)


_SERIAL = {f"GPIO {SERIAL[0]}"}


def _wrapped(head: str, text: str) -> list[str]:
    return wrap(
        printable(text),
        WIDTH,
        initial_indent=head,
        subsequent_indent=" " * min(len(head), 12),
        break_long_words=False,
        break_on_hyphens=False,
    )

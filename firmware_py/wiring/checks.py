"""The electrical check of a layout: every figure, and those of them that are wrong."""

from __future__ import annotations

from firmware_py.layout.model import Layout
from firmware_py.wiring.contact_figures import contact_figures
from firmware_py.wiring.figure import Figure
from firmware_py.wiring.lamp_figures import lamp_figures, pin_figures
from firmware_py.wiring.load_figures import load_figures, rail_figures
from firmware_py.wiring.wires import wires_of


def electrical_figures(layout: Layout) -> tuple[Figure, ...]:
    """Every figure: lamps, pins and chips, contacts and leads, loads, supplies."""
    wires = wires_of(layout)
    return (
        *lamp_figures(wires, layout.wiring),
        *pin_figures(wires, layout),
        *contact_figures(layout),
        *load_figures(wires, layout),
        *rail_figures(wires, layout),
    )


def faults_of(figures: tuple[Figure, ...]) -> tuple[Figure, ...]:
    """The figures that something has to be done about."""
    return tuple(figure for figure in figures if figure.wrong)

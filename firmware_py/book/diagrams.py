"""The drawings of the hardware pages, made by the same code as the wiring book's.

``python -m firmware_py.book.diagrams`` writes them to hardware_docs/diagrams; a test fails while
those are not what the code draws.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

from firmware_py.book.circuit import ContactCircuit, Feed, OutputCircuit, Part
from firmware_py.book.contact_circuits import contact_svg
from firmware_py.book.dip import expander_svg, uln_svg
from firmware_py.book.header_plate import header_svg
from firmware_py.book.output_circuits import output_svg
from firmware_py.book.rows import rows_of
from firmware_py.book.supplies import supplies_of
from firmware_py.book.supply_plate import supply_svg
from firmware_py.layout.electrics import ChipKind
from firmware_py.layout.model import Layout
from firmware_py.layout.reading import parse_layout
from firmware_py.wiring.contact_figures import MICRO, OPTO, REED
from firmware_py.wiring.wires import wires_of

DIRECTORY = Path("hardware_docs/diagrams")

_STAND = """
[layout]
name = "One stand"

[[chip]]
id = "io-1"
kind = "{kind}"
address = 0x20

[[switch]]
id = "kiln-switch"
contacts = {{ hasp = "io-1:0", normal = "io-1:1", reverse = "io-1:2", detector = "io-1:3" }}
lamps = {{ green = "io-1:8", red = "io-1:9", white = "io-1:10" }}
bolt = 12
buzzer = 13

[[spur]]
id = "kiln"
switch = "kiln-switch"
contacts = {{ detector = "io-1:4" }}
power = 17

[[key]]
id = "kiln-key"
contacts = {{ hook = 4 }}
"""
"""What the diagrams of chips and of the header show."""


def diagrams() -> dict[str, str]:
    """Every drawing by its file's name."""
    return {**_contacts(), **_outputs(), **_plates()}


def _contacts() -> dict[str, str]:
    plain = (
        ("hasp", Part.HASP, MICRO.pull_up_ohm),
        ("micro-switch", Part.MICRO, MICRO.pull_up_ohm),
        ("button", Part.BUTTON, MICRO.pull_up_ohm),
        ("reed", Part.REED, REED.pull_up_ohm),
        ("detector", Part.DETECTOR, OPTO.pull_up_ohm),
    )
    drawn = {
        f"contact-{name}.svg": contact_svg(ContactCircuit(part, ohm, False, False, False))
        for name, part, ohm in plain
    }
    pull = MICRO.pull_up_ohm
    drawn["contact-filtered.svg"] = contact_svg(ContactCircuit(Part.MICRO, pull, True, True, False))
    drawn["contact-protected.svg"] = contact_svg(ContactCircuit(Part.MICRO, pull, True, True, True))
    return drawn


def _outputs() -> dict[str, str]:
    circuits = {
        "lamp-on-pin": OutputCircuit(Part.LAMP, Feed.PIN, 3.3, colour="red", resistor_ohm=470),
        "lamp-mosfet": OutputCircuit(Part.LAMP, Feed.MOSFET, 5, colour="white", resistor_ohm=180),
        "lamp-uln2803a": OutputCircuit(Part.LAMP, Feed.ULN, 12, colour="blue", resistor_ohm=820),
        "bolt-uln2803a": OutputCircuit(Part.BOLT, Feed.ULN, 12),
        "bolt-mosfet": OutputCircuit(Part.BOLT, Feed.MOSFET, 12),
        "bolt-servo": OutputCircuit(Part.SERVO, Feed.SERVO_BOARD, 5),
        "track-power": OutputCircuit(Part.RELAY, Feed.ULN, 12),
        "buzzer": OutputCircuit(Part.BUZZER, Feed.ULN, 12),
    }
    return {f"{name}.svg": output_svg(circuit) for name, circuit in circuits.items()}


def _plates() -> dict[str, str]:
    spi, i2c = _stand(ChipKind.MCP23S17), _stand(ChipKind.MCP23017)
    rows = rows_of(i2c)
    return {
        "header.svg": header_svg(i2c, rows),
        "expander-mcp23017.svg": expander_svg(i2c.chips[0], rows),
        "expander-mcp23s17.svg": expander_svg(spi.chips[0], rows_of(spi)),
        "driver-uln2803a.svg": uln_svg("coils header #1", rows),
        "supplies.svg": supply_svg(supplies_of(wires_of(i2c), i2c)),
    }


def _stand(kind: ChipKind) -> Layout:
    return parse_layout(_STAND.format(kind=kind.value), "stand")


def main(argv: Sequence[str] | None = None) -> int:
    """Write every drawing, and take away what is none of them any more."""
    parser = argparse.ArgumentParser(description="Draw the diagrams of the hardware pages anew.")
    parser.add_argument("directory", type=Path, nargs="?", default=DIRECTORY)
    directory: Path = parser.parse_args(argv).directory
    directory.mkdir(parents=True, exist_ok=True)
    drawn = diagrams()
    for name, svg in drawn.items():
        (directory / name).write_bytes(f"{svg}\n".encode())
    for stale in directory.glob("*.svg"):
        if stale.name not in drawn:
            stale.unlink()
    print(f"Wrote {len(drawn)} drawings to {directory}")
    return 0


if __name__ == "__main__":
    sys.exit(main())

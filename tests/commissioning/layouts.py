"""A small layout whose detectors are inverted, as the hardware pages advise."""

from __future__ import annotations

from firmware_py.layout.model import Layout
from firmware_py.layout.reading import parse_layout

KILN = """\
[layout]
name = "Kiln lane"

[[switch]]
id = "kiln-switch"
key = "kiln-key"
lamps = { green = "auto", red = "auto", white = "auto" }

[switch.contacts]
hasp = "auto"
normal = "auto"
reverse = "auto"
detector = { pin = "auto", inverted = true }

[[spur]]
id = "kiln"
switch = "kiln-switch"

[spur.contacts]
detector = { pin = "auto", inverted = true }
fouling = { pin = "auto", inverted = true }

[[key]]
id = "kiln-key"
contacts = { hook = "auto" }
"""


def kiln() -> Layout:
    """The small layout, read."""
    return parse_layout(KILN, "kiln.toml")

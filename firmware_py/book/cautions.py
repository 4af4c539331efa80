"""The cautions, each put on the pages where it matters."""

from __future__ import annotations

LOW_VOLTAGE = "Low voltage only: 12 V or less is best, 24 V the very most."
SUPPLIES = (
    "Listed, certified supplies with isolation from the mains; build none, switch no mains. A fuse "
    "in each branch, close to its supply."
)
TRACK = (
    "Track power never goes to a pin. A detector's isolated output is all that comes from the "
    "track; measure it before you join it: 0 to 3.3 V, never more, with track power on."
)
PINS = "No pin sees more than 3.3 V. Never join a pin, or a pull-up, to 5 V or 12 V."
POWER_OFF = "Power off, and unplugged, before you touch a wire."
SOLDER = (
    "Solder in moving air with eye protection, away from what burns; wash your hands afterwards."
)
SMALL = "Small parts and magnets are dangerous to small children; swallowed magnets most of all."
NEVER_REAL = (
    "For a scale layout only, never for a real railway. Nothing here is safety-rated: a bolt that "
    "should be shut is proven only by a contact that senses it."
)
CODES = "Local codes and licensed practice go before anything printed here."
COILS = (
    "Coils have their own supply, not the Pi's, and a flyback diode each. No fingers in a "
    "mechanism that is powered. Prove every bolt with a lamp in its place first."
)
BUS = (
    "The expanders' bus stays in the box: half a metre at most. Run the contacts out, not the bus."
)

ALL = (
    LOW_VOLTAGE,
    SUPPLIES,
    TRACK,
    PINS,
    COILS,
    POWER_OFF,
    SOLDER,
    SMALL,
    NEVER_REAL,
    CODES,
)
"""For the first page."""

FOOT = "Low voltage only. Track power never on a pin. Never for a real railway."
"""For the foot of every page."""

"""Small layouts, each with one kind of protection, and ones with all of them."""

from firmware_py.layout.model import Layout
from firmware_py.layout.reading import parse_layout

HEAD = '[layout]\nname = "Sallow Bottom"\n'

SWITCH = """
[[switch]]
id = "sallow-switch"
key = "sallow-key"
contacts = { hasp = "auto", normal = "auto", reverse = "auto", detector = "auto" }
lamps = { green = "auto", red = "auto", white = "auto" }
bolt = "auto"
buzzer = "auto"
"""
KEY = '[[key]]\nid = "sallow-key"\ncontacts = { hook = "auto" }\n'
SPUR = """
[[spur]]
id = "sallow"
switch = "sallow-switch"
grade_percent = 1.0
power = "auto"
"""
FOREMAN = 'foreman = "host"\n'
SENSES = 'contacts = { detector = "auto", fouling = "auto" }\n'
GATE = """
[[gate]]
id = "sallow-gate"
spur = "sallow"
key = "sallow-key"
contacts = { hasp = "auto", shut = "auto", detector = "auto" }
lamp = "auto"
"""
BARE_GATE = """
[[gate]]
id = "sallow-gate"
spur = "sallow"
contacts = { shut = "auto" }
lamp = "auto"
"""
DERAIL = """
[[derail]]
id = "sallow-derail"
spur = "sallow"
contacts = { hasp = "auto", on = "auto", detector = "auto" }
lamp = "auto"
"""
FLAG = """
[[flag]]
id = "sallow-flag"
spur = "sallow"
contacts = { rack = "auto" }
lamp = "auto"
"""
FAR_FLAG = FLAG.replace("sallow-flag", "sallow-far-flag")
CHOCK = """
[[chock]]
id = "sallow-chock"
spur = "sallow"
contacts = { rack = "auto" }
lamp = "auto"
"""
LOCKLESS = """
[[switch]]
id = "sallow-switch"
lock = "none"
contacts = { normal = "auto", reverse = "auto", detector = "auto" }
lamps = { green = "auto", red = "auto", white = "auto" }
bolt = "auto"
"""

TEXTS = {
    "bare": HEAD + SWITCH + KEY,
    "plain": HEAD + SWITCH + SPUR + FOREMAN + SENSES + KEY,
    "gate": HEAD + SWITCH + SPUR + SENSES + GATE + KEY,
    "bare-gate": HEAD + SWITCH + SPUR + BARE_GATE + KEY,
    "derail": HEAD + SWITCH + SPUR + SENSES + DERAIL + KEY,
    "flag": HEAD + SWITCH + SPUR + SENSES + FLAG + KEY,
    "flags": HEAD + SWITCH + SPUR + SENSES + FLAG + FAR_FLAG + KEY,
    "chock": HEAD + SWITCH + SPUR + SENSES + CHOCK + KEY,
    "lockless": HEAD + LOCKLESS + SPUR + SENSES,
    "whole": HEAD
    + SWITCH
    + SPUR
    + FOREMAN
    + SENSES
    + FLAG
    + FAR_FLAG
    + DERAIL
    + GATE
    + CHOCK
    + KEY,
}

ENCODED = HEAD + SWITCH + SPUR + FOREMAN + 'contacts = { detector = "auto" }\n' + FLAG + KEY
"""The one spur that is encoded a second time for the solver."""
ENCODED_ALONE = (HEAD + SWITCH + SPUR + 'contacts = { detector = "auto" }\n' + FLAG).replace(
    'key = "sallow-key"\n', ""
)
"""The same without foreman and key, which have no say in what must not be silent."""


def layout_of(name: str) -> Layout:
    """One of the layouts above."""
    return parse_layout(TEXTS[name], f"{name}.toml")


def many(count: int, *, alike: bool = True) -> Layout:
    """``count`` plain spurs that do not touch; each with times of its own unless ``alike``."""
    text = HEAD
    body = SWITCH.replace('key = "sallow-key"\n', "") + SPUR + FOREMAN
    body += 'contacts = { detector = "auto" }\n'
    for number in range(count):
        piece = body.replace("sallow", f"sallow-{number}")
        if not alike:
            piece = piece.replace(
                'hasp = "auto"', f'hasp = {{ pin = "auto", settle = {(number + 1) / 1000} }}'
            )
        text += piece
    return parse_layout(text, "many.toml")

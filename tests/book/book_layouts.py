"""Layouts for the book's tests, and a reader of the wire list that knows nothing of its making."""

from __future__ import annotations

from html.parser import HTMLParser
from importlib.resources import files

from firmware_py.layout.model import Layout
from firmware_py.layout.reading import parse_layout

DEMO_FILE = files("firmware_py.demo") / "layouts" / "wendlebeck.toml"
DEMO = parse_layout(DEMO_FILE.read_text("utf-8"), "wendlebeck.toml")

ODD_NAME = '</title><script>alert("1")</script> & \u0007Grüße \u202eabc'
"""A name that would be a tag, an entity, a bell and a turn of the writing's direction."""

LONG = "a-very-long-name-of-an-industry-that-nobody-would-ever-type-twice-or-read-to-its-end"

VARIED = f"""
[layout]
name = '{ODD_NAME.replace(chr(7), "").replace(chr(0x202E), "")}'

[wiring]
pi = "5"
lead_m = 12
supply_v = 12
bolt_ma = 500
serial_console = false
keep = [22]

[[chip]]
id = "io-1"
kind = "mcp23017"
address = 0x25

[[chip]]
id = "deep"
kind = "mcp23s17"
address = 0x21
bus = 1
select = 2

[[switch]]
id = "{LONG}"
bolt = 24
buzzer = 25
[switch.contacts]
hasp = 14
normal = "io-1:1"
reverse = {{ pin = "io-1:2", inverted = true }}
button = 15
[switch.lamps]
green = {{ pin = "io-1:7", inverted = true }}
red = "io-1:15"
white = 23

[[spur]]
id = "quay"
name = 'Quay <b>"7"</b> & Söhne'
switch = "{LONG}"
contacts = {{ detector = {{ pin = "deep:15", inverted = true }}, fouling = "deep:0" }}
power = 26

[[gate]]
id = "quay-gate"
spur = "quay"
contacts = {{ hasp = "other:3", shut = "other:12" }}
lamp = "deep:4"

[[derail]]
id = "quay-derail"
spur = "quay"
contacts = {{ hasp = "io-1:3", on = "io-1:4" }}
lamp = 12

[[flag]]
id = "quay-flag"
spur = "quay"
contacts = {{ rack = 4 }}
lamp = 13
"""

SERVO = """
[wiring]
bolt = "servo"
lead_m = 2.5
red_v = 1.9

[[switch]]
id = "mole-switch"
contacts = { hasp = 4, normal = 5, reverse = 6 }
lamps = { red = { pin = 9, inverted = true }, white = { pin = 10, inverted = true } }
bolt = 12

[[spur]]
id = "mole"
switch = "mole-switch"
"""

LAYOUTS: dict[str, Layout] = {
    "demo": DEMO,
    "varied": parse_layout(VARIED, "varied.toml"),
    "servo": parse_layout(SERVO, "servo.toml"),
}


class Cells(HTMLParser):
    """The rows of every table, by the table's ``data-table``, each cell as its plain text."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tables: dict[str, list[list[str]]] = {}
        self._table = ""
        self._inside = False
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag == "table":
            self._table = dict(attrs).get("data-table") or ""
        elif tag == "tr":
            self.tables.setdefault(self._table, []).append([])
        elif tag == "td":
            self.tables[self._table][-1].append("")
            self._inside = True
        elif tag == "br" and self._inside:
            self.tables[self._table][-1][-1] += "\n"

    def handle_endtag(self, tag: str) -> None:
        if tag == "td":
            self._inside = False

    def handle_data(self, data: str) -> None:
        if self._inside:
            self.tables[self._table][-1][-1] += data

    def rows(self, table: str) -> list[list[str]]:
        """The rows that have cells, headings left out."""
        return [row for row in self.tables[table] if row]

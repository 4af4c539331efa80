"""Tapes that can't be read, one for each way to get a line wrong.

Each breaks at its second line; its first is a good one, so that what it brings about must be
printed before the tape is given up. The fragment is what the message must say, whatever its words.
"""

from __future__ import annotations

from dataclasses import dataclass

GOOD = b'{"t": 1, "command": "ask", "spur": "kiln"}\n'
GOOD_LINES = (
    '{"t": 1.0, "what": "foreman", "spur": "kiln", "is": "asked"}\n'
    '{"t": 1.0, "what": "phase", "spur": "kiln", "phase": "opening", "next": "foreman"}\n'
)


@dataclass(frozen=True)
class Broken:
    """A second line (any bytes) and a word that the message must have."""

    name: str
    line: bytes
    says: str = ""


def _reading(**wrong: str) -> bytes:
    """A reading with some of its values (as JSON) put wrong, or added."""
    return _object({"t": "2", "contact": '"kiln.detector"', "made": "true"} | wrong)


def _command(command: str, **more: str) -> bytes:
    """A command with its values as JSON."""
    return _object({"t": "2", "command": f'"{command}"'} | more)


def _object(values: dict[str, str]) -> bytes:
    pairs = ", ".join(f'"{key}": {value}' for key, value in values.items() if value)
    return f"{{{pairs}}}".encode()


KILN = '"kiln"'

BROKEN = [
    # Time.
    Broken("negative t", _reading(t="-1"), "t"),
    Broken("just negative t", _reading(t="-0.0000001"), "t"),
    Broken("falling t", _reading(t="0.5"), "fall"),
    Broken("falling end", b'{"t": 0.5, "end": true}', "fall"),
    Broken("t missing", _reading(t=""), "t"),
    Broken("t in quotes", _reading(t='"2"'), "t"),
    Broken("t null", _reading(t="null"), "t"),
    Broken("t true", _reading(t="true"), "t"),
    Broken("t huge", _reading(t="1e300"), "t"),
    Broken("t a little too large", _reading(t="1000000001"), "t"),
    Broken("t beyond any float", _reading(t="1e400"), "t"),
    Broken("t of 400 digits", _reading(t="9" * 400), "t"),
    Broken("t NaN", _reading(t="NaN")),
    Broken("t Infinity", _reading(t="Infinity")),
    Broken("t minus Infinity", _reading(t="-Infinity")),
    Broken("t a list", _reading(t="[2]"), "t"),
    # Not a line of JSON at all.
    Broken("half a line", b'{"t": 2, "contact": "kiln.det'),
    Broken("lacks its brace", b'{"t": 2, "end": true'),
    Broken("not JSON", b"the crew went home"),
    Broken("single quotes", b"{'t': 2, 'end': true}"),
    Broken("trailing comma", b'{"t": 2, "end": true,}'),
    Broken("two on one line", b'{"t": 2, "end": true} {"t": 3, "end": true}'),
    Broken("a comment", b"# switching begins"),
    Broken("a list", b'[2, "kiln.detector", true]'),
    Broken("a number", b"2"),
    Broken("a string", b'"end"'),
    Broken("null", b"null"),
    Broken("an empty object", b"{}", "t"),
    Broken("binary", bytes(range(256)).replace(b"\n", b"")),
    Broken("zero bytes", bytes(64)),
    Broken("not UTF-8", b'{"t": 2, "contact": "kiln.d\xe9tector", "made": true}'),
    Broken("UTF-16", '{"t": 2, "end": true}'.encode("utf-16")),
    Broken("a byte order mark", b'\xef\xbb\xbf{"t": 2, "end": true}'),
    Broken("half a surrogate pair", _reading(contact='"\\ud800"')),
    Broken("nested too deeply", b"[" * 4000),
    Broken("a line of 5000 bytes", b'{"t": 2, "end": true' + b" " * 5000 + b"}", "long"),
    # Readings.
    Broken("unknown contact", _reading(contact='"kiln.detecter"'), "kiln.detecter"),
    Broken("a thing, not a contact", _reading(contact=KILN), "kiln"),
    Broken("contact a number", _reading(contact="7"), "contact"),
    Broken("contact null", _reading(contact="null"), "contact"),
    Broken("made missing", _reading(made=""), "made"),
    Broken("made a string", _reading(made='"true"'), "made"),
    Broken("made a number", _reading(made="1"), "made"),
    Broken("made without contact", _reading(contact=""), ""),
    Broken("unknown key", _reading(colour='"red"'), "colour"),
    Broken("a reading with a spur", _reading(spur=KILN), ""),
    Broken("a reading and a command", _reading(command='"ask"', spur=KILN), ""),
    Broken("a reading with end", _reading(end="true"), ""),
    # Commands.
    Broken("unknown command", _command("shout", spur=KILN), "shout"),
    Broken("command in capitals", _command("Ask", spur=KILN), "Ask"),
    Broken("command a number", b'{"t": 2, "command": 3, "spur": "kiln"}', "command"),
    Broken("spur missing", _command("release"), "spur"),
    Broken("spur null", _command("release", spur="null"), "spur"),
    Broken("unknown spur", _command("release", spur='"lime"'), "lime"),
    Broken("a switch, not a spur", _command("release", spur='"kiln-switch"'), "kiln-switch"),
    Broken("a command with made", _command("release", spur=KILN, made="true"), "made"),
    Broken("a command with end", _command("release", spur=KILN, end="true"), "end"),
    Broken("acknowledge without number", _command("acknowledge"), "violation"),
    Broken("acknowledge a string", _command("acknowledge", violation='"1"'), "violation"),
    Broken("acknowledge a fraction", _command("acknowledge", violation="1.5"), "violation"),
    Broken("acknowledge null", _command("acknowledge", violation="null"), "violation"),
    Broken("acknowledge a spur", _command("acknowledge", violation="1", spur=KILN), ""),
    Broken("release a violation", _command("release", spur=KILN, violation="1"), "violation"),
    Broken("cars missing", _command("start-brake-test", spur=KILN), "cars"),
    Broken("cars zero", _command("start-brake-test", spur=KILN, cars="0"), "cars"),
    Broken("cars negative", _command("start-brake-test", spur=KILN, cars="-3"), "cars"),
    Broken("cars a fraction", _command("start-brake-test", spur=KILN, cars="2.5"), "cars"),
    Broken("cars true", _command("start-brake-test", spur=KILN, cars="true"), "cars"),
    Broken("cars a string", _command("start-brake-test", spur=KILN, cars='"3"'), "cars"),
    Broken("cars beyond counting", _command("start-brake-test", spur=KILN, cars="9" * 30), "cars"),
    Broken("cars with another command", _command("release", spur=KILN, cars="3"), "cars"),
    # The end.
    Broken("end false", b'{"t": 2, "end": false}', "end"),
    Broken("end null", b'{"t": 2, "end": null}', "end"),
    Broken("end a number", b'{"t": 2, "end": 1}', "end"),
    Broken("end with a spur", b'{"t": 2, "end": true, "spur": "kiln"}', ""),
    Broken("only a time", b'{"t": 2}', ""),
    # Text that would break the one line of the message, or a terminal.
    Broken("a line break in a contact", _reading(contact='"kiln\\n.detector"'), ""),
    Broken("a line break in a contact without made", b'{"t": 2, "contact": "kiln\\n"}', "made"),
    Broken("a line break in a key", b'{"t": 2, "a\\nb": 1}', ""),
    Broken("a line break in a command", _command("as\\nk", spur=KILN), ""),
    Broken("a line break in a spur", _command("ask", spur='"ki\\nln"'), ""),
    Broken("a terminal's escape in a key", b'{"t": 2, "\\u001b[31m": 1}', ""),
    Broken("a terminal's escape in a contact", b'{"t": 2, "contact": "\\u001b[31m"}', "made"),
]

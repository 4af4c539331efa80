"""Random layouts as text: some wires placed, some waiting, some chips described."""

from __future__ import annotations

import random
from dataclasses import dataclass, field

from firmware_py.layout.model import Layout
from firmware_py.layout.reading import parse_layout

LOCKS = ("padlock", "none")


@dataclass
class Maker:
    """Writes a layout of a wanted number of contacts."""

    chance: random.Random
    coils: float = 0.3
    lamps: float = 0.6
    inverted: float = 0.1
    placed: float = 0.0
    elsewhere: bool = False
    buttons: float = 0.5
    colours: str = "green red white"
    heading: list[str] = field(default_factory=list)
    header: list[int] = field(default_factory=list)
    lines: list[str] = field(default_factory=list)
    contacts: int = 0
    wired: int = 0

    def pin(self, pool: list[int], barred_lines: tuple[int, ...] = ()) -> str:
        """A pin of the pool or of a described chip, or "auto"."""
        if self.chance.random() >= self.placed:
            return '"auto"'
        fit = [p for p in self.header if p in pool]
        lines = [x for x in self.lines if int(x.rpartition(":")[2]) not in barred_lines]
        if fit and (not lines or self.chance.random() < 0.5):
            self.header.remove(fit[0])
            self.wired += 1
            return str(fit[0])
        if lines:
            at = self.chance.choice(lines)
            self.lines.remove(at)
            self.wired += 1
            return f'"{at}"'
        return '"auto"'

    def contact(self, role: str) -> str:
        self.contacts += 1
        if self.elsewhere and self.chance.random() < 0.9:
            return f'{role} = "box:{self.contacts}"'
        pin = self.pin([4, 5, 6, *range(12, 28)], (7, 15))
        if self.chance.random() < 0.1:
            return f"{role} = {{ pin = {pin}, settle = 0.05 }}"
        return f"{role} = {pin}"

    def output(self, key: str, coil: bool = False) -> str:
        pool = [12, 13, *range(16, 28)]
        if not coil and self.chance.random() < self.inverted:
            return f"{key} = {{ pin = {self.pin(pool)}, inverted = true }}"
        if coil and self.lines:
            kept, self.lines = self.lines, []
            text = f"{key} = {self.pin(pool)}"
            self.lines = kept
            return text
        return f"{key} = {self.pin(pool)}"

    def maybe(self, share: float) -> bool:
        return self.chance.random() < share

    def text(self, wanted: int) -> str:
        parts = ['[layout]\nname = "Random"\n', *self.heading]
        number = 0
        while self.contacts < wanted:
            number += 1
            parts.extend(self.stand(number, wanted))
        return "\n".join(parts)

    def stand(self, number: int, wanted: int) -> list[str]:
        lock = self.chance.choice(LOCKS)
        roles = ["normal", "reverse"]
        if lock == "padlock" and wanted - self.contacts > 2:
            roles.insert(0, "hasp")
        else:
            lock = "none"
        roles += [r for r in ("detector", "button") if self.maybe(self.buttons)]
        rows = [f'[[switch]]  # stand {number}\nid = "s{number}-switch"\nlock = "{lock}"']
        rows.append(f"contacts = {{ {', '.join(self.contact(r) for r in roles)} }}")
        lamps = [c for c in self.colours.split() if self.maybe(self.lamps)]
        if lamps:
            rows.append(f"lamps = {{ {', '.join(self.output(c) for c in lamps)} }}")
        if self.maybe(self.coils):
            rows.append(self.output("bolt", coil=True))
        if self.maybe(0.2):
            rows.append(f"buzzer = {self.pin([12, 13, *range(16, 28)])}")
        return ["\n".join(rows) + "\n", *self.spur(number)]

    def spur(self, number: int) -> list[str]:
        rows = [f'[[spur]]\nid = "s{number}"\nswitch = "s{number}-switch"']
        if self.maybe(0.6):
            rows.append(f"contacts = {{ {self.contact('detector')} }}")
        if self.maybe(self.coils):
            rows.append(self.output("power", coil=True))
        parts = ["\n".join(rows) + "\n"]
        for kind, role in (("flag", "rack"), ("chock", "rack"), ("gate", "shut")):
            if self.maybe(0.4):
                row = f'[[{kind}]]\nid = "s{number}-{kind}"\nspur = "s{number}"\n'
                row += f"contacts = {{ {self.contact(role)} }}\n"
                if self.maybe(self.lamps):
                    row += self.output("lamp") + "\n"
                parts.append(row)
        if self.maybe(0.3):
            parts.append(
                f'[[key]]\nid = "s{number}-key"\ncontacts = {{ {self.contact("hook")} }}\n'
            )
        return parts


def random_layout(seed: int) -> tuple[str, Layout]:
    """The text of a layout of 4 to 150 contacts, and the layout."""
    chance = random.Random(seed)
    wanted = chance.randint(4, 150) if seed % 2 else chance.randint(4, 45)
    maker = Maker(
        chance,
        coils=chance.choice((0.0, 0.1, 0.3, 0.8)),
        lamps=chance.choice((0.0, 0.3, 0.6, 1.0)),
        inverted=chance.choice((0.0, 0.1, 0.9)),
        placed=chance.choice((0.0, 0.0, 0.3)),
    )
    if seed % 4 == 3:
        # Lamps by the dozen and contacts wired elsewhere: current and boot pulls decide.
        wanted, maker.elsewhere, maker.lamps = chance.randint(12, 24), True, 1.0
        maker.coils, maker.buttons = chance.choice((0.0, 0.3)), 0.0
        maker.colours = chance.choice(("red green", "red green white"))
    maker.header = chance.sample(range(4, 28), 24) if chance.random() < 0.3 else []
    maker.header = [p for p in maker.header if p not in (7, 8, 9, 10, 11, 14, 15)]
    told = []
    if chance.random() < 0.3:
        told.append(f"keep = {chance.sample([4, 16, 17], 2)}")
        maker.header = [p for p in maker.header if p not in (4, 16, 17)]
    if chance.random() < 0.2:
        told.append("serial_console = false")
    if chance.random() < 0.3 and not maker.elsewhere:
        told.append(f"led_ma = {chance.choice((1, 2, 3, 8))}")
    if told:
        maker.heading.append("[wiring]\n" + "\n".join(told) + "\n")
    for number in range(chance.choice((0, 0, 0, 1, 3))):
        spi = chance.random() < 0.3
        kind, rest = ("mcp23s17", "select = 1") if spi else ("mcp23017", "bus = 1")
        address = 0x27 - number
        table = f'[[chip]]\nid = "old-{number}"\nkind = "{kind}"\naddress = {address}\n{rest}\n'
        maker.heading.append(table)
        maker.lines += [f"old-{number}:{line}" for line in range(16)]
    text = maker.text(wanted)
    return text, parse_layout(text, f"seed {seed}")

"""A register-level model of the MCP23017 and MCP23S17, and of the two buses they hang on.

Written from Microchip DS20001952 as ``electronics.md`` cites it (reset state, limits, addresses)
and from memory where that is silent (IOCON's bits, the address pointer). It shares nothing with
the register map under test. ``FakeSmbus`` and ``FakeSpidev`` implement just the calls of smbus2
and spidev that are used, and raise what the kernel raises.
"""

import errno
import threading
from collections.abc import Callable

RESET = {
    "IODIRA": 0xFF,
    "IODIRB": 0xFF,
    **{
        f"{name}{port}": 0x00
        for name in ("IPOL", "GPINTEN", "DEFVAL", "INTCON", "GPPU", "INTF", "OLAT")
        for port in "AB"
    },
    "IOCON": 0x00,
}
"""The data sheet's power-on values: all lines inputs, everything else zero (electronics.md B1)."""

PAIRS = (
    ("IODIRA", "IODIRB"),
    ("IPOLA", "IPOLB"),
    ("GPINTENA", "GPINTENB"),
    ("DEFVALA", "DEFVALB"),
    ("INTCONA", "INTCONB"),
    ("IOCON", "IOCON"),
    ("GPPUA", "GPPUB"),
    ("INTFA", "INTFB"),
    ("INTCAPA", "INTCAPB"),
    ("GPIOA", "GPIOB"),
    ("OLATA", "OLATB"),
)
IN_TURN = {2 * place + port: pair[port] for place, pair in enumerate(PAIRS) for port in (0, 1)}
IN_BANKS = {place + 16 * port: pair[port] for place, pair in enumerate(PAIRS) for port in (0, 1)}
BANK, SEQOP, HAEN = 0x80, 0x20, 0x08


class Expander:
    """A chip. Its lines are pulled from outside by ``pull``; a line that nobody pulls floats."""

    def __init__(self, address: int, spi: bool = False) -> None:
        self.address = address
        self.spi = spi
        self.present = True
        self.broken = False
        self.outside: dict[int, bool] = {}
        self.registers: dict[str, int] = {}
        self.pointer = 0
        self.latched: list[int] = []
        self.driven: list[tuple[int, int]] = []
        self.lock = threading.RLock()
        self.reset()

    def reset(self) -> None:
        """Power on, RESET pulled low, or a supply that dipped: they leave the same."""
        with self.lock:
            self.registers = dict(RESET)
            self.pointer = 0

    def pull(self, line: int, level: bool | None) -> None:
        """Pull a line from outside, as a contact to ground does; ``None`` lets go of it."""
        with self.lock:
            if level is None:
                self.outside.pop(line, None)
            else:
                self.outside[line] = level

    def word(self, name: str) -> int:
        return self.registers[f"{name}B"] << 8 | self.registers[f"{name}A"]

    def level(self, line: int) -> bool:
        """The level at a pin: its latch if it is an output, else the outside, else the pull-up.

        A line that floats reads low here, which is the worse for contacts that are made so.
        """
        if not self.word("IODIR") >> line & 1:
            return bool(self.word("OLAT") >> line & 1)
        return self.outside.get(line, bool(self.word("GPPU") >> line & 1))

    def lit(self, line: int) -> bool | None:
        """What an output drives, ``None`` if the line drives nothing."""
        with self.lock:
            return None if self.word("IODIR") >> line & 1 else self.level(line)

    # What the bus does.

    def read(self, start: int, count: int) -> list[int]:
        with self.lock:
            self.pointer = start
            return [self._next_read() for _ in range(count)]

    def write(self, start: int, values: list[int]) -> None:
        with self.lock:
            self.pointer = start
            for value in values:
                self._next_write(value)
            self.latched.append(self.word("OLAT"))
            self.driven.append((self.word("IODIR"), self.word("OLAT")))

    def _map(self) -> dict[int, str]:
        return IN_BANKS if self.registers["IOCON"] & BANK else IN_TURN

    def _step(self) -> None:
        if not self.registers["IOCON"] & SEQOP:
            self.pointer += 1
            if self.pointer > max(self._map()):
                self.pointer = 0
        elif not self.registers["IOCON"] & BANK:
            self.pointer ^= 1  # Byte mode toggles between the two of a pair.

    def _next_read(self) -> int:
        name = self._map().get(self.pointer)
        self._step()
        if name is None:
            return 0
        if name.startswith("GPIO"):
            base = 8 if name[-1] == "B" else 0
            levels = sum(self.level(base + bit) << bit for bit in range(8))
            port = name[-1]
            return levels ^ (self.registers[f"IPOL{port}"] & self.registers[f"IODIR{port}"])
        return self.registers.get(name, 0)

    def _next_write(self, value: int) -> None:
        name = self._map().get(self.pointer)
        self._step()
        if name is None or name.startswith(("INTF", "INTCAP")) or self.broken:
            return
        if name.startswith("GPIO"):
            name = f"OLAT{name[-1]}"  # Writing the port writes its latch.
        if name == "IOCON":
            value &= 0xFE if self.spi else 0xFE & ~HAEN  # What is not there reads zero.
        self.registers[name] = value


class Wires:
    """A bus with its chips and its faults; ``noise`` says of each transaction whether it fails."""

    def __init__(self, *chips: Expander) -> None:
        self.chips = {chip.address: chip for chip in chips}
        self.transactions = 0
        self.stuck = False
        self.floats = 0xFF
        self.noise: Callable[[], bool] = lambda: False
        self.takes: Callable[[], None] = lambda: None
        self.hangs: Callable[[], None] = lambda: None
        self.opened = 0
        self.closed = 0

    def begin(self) -> None:
        self.transactions += 1
        self.takes()
        if self.stuck:
            self.hangs()
            raise TimeoutError(errno.ETIMEDOUT, "Connection timed out")
        if self.noise():
            raise OSError(errno.EIO, "Input/output error")

    def chip(self, address: int) -> Expander:
        self.begin()
        chip = self.chips.get(address)
        if chip is None or not chip.present:
            raise OSError(errno.EREMOTEIO, "Remote I/O error")
        return chip


class FakeSmbus:
    """The calls of ``smbus2.SMBus`` that are used; words go low byte first, as SMBus has them."""

    def __init__(self, wires: Wires) -> None:
        self._wires = wires
        wires.opened += 1

    def read_word_data(self, address: int, register: int) -> int:
        low, high = self._wires.chip(address).read(register, 2)
        return high << 8 | low

    def write_word_data(self, address: int, register: int, value: int) -> None:
        assert 0 <= value <= 0xFFFF
        self._wires.chip(address).write(register, [value & 0xFF, value >> 8])

    def write_byte_data(self, address: int, register: int, value: int) -> None:
        assert 0 <= value <= 0xFF
        self._wires.chip(address).write(register, [value])

    def close(self) -> None:
        self._wires.closed += 1


class FakeSpidev:
    """The calls of ``spidev.SpiDev`` that are used. With nobody answering MISO floats."""

    def __init__(self, wires: Wires) -> None:
        self._wires = wires
        self.mode = -1
        self.max_speed_hz = 0

    def open(self, bus: int, device: int) -> None:
        self._wires.opened += 1

    def xfer2(self, values: list[int]) -> list[int]:
        assert self.mode == 0
        assert 0 < self.max_speed_hz <= 10_000_000
        self._wires.begin()
        opcode, register, *data = values
        assert opcode & 0xF0 == 0x40
        heard = [c for c in self._wires.chips.values() if c.present and self._heeds(c, opcode)]
        if not opcode & 1:
            for chip in heard:
                chip.write(register, data)
        answer = [self._wires.floats] * len(data)
        if opcode & 1 and heard:
            # Two that answer at once pull against each other; low wins in this model.
            answers = [chip.read(register, len(data)) for chip in heard]
            answer = [min(bytes_) for bytes_ in zip(*answers, strict=True)]
        return [self._wires.floats, self._wires.floats, *answer]

    def close(self) -> None:
        self._wires.closed += 1

    @staticmethod
    def _heeds(chip: Expander, opcode: int) -> bool:
        """With HAEN clear all address pins count as low."""
        place = opcode >> 1 & 7
        own = chip.address & 7 if chip.registers["IOCON"] & HAEN else 0
        return place == own


class FakeStub:
    """What the kernel's ``i2c-stub`` does, from memory of its source: 256 words for an address.

    A byte is the low half of its word; nothing else is connected to anything.
    """

    def __init__(self) -> None:
        self.words: dict[tuple[int, int], int] = {}

    def read_word_data(self, address: int, register: int) -> int:
        return self.words.get((address, register), 0)

    def write_word_data(self, address: int, register: int, value: int) -> None:
        self.words[address, register] = value

    def write_byte_data(self, address: int, register: int, value: int) -> None:
        self.words[address, register] = self.read_word_data(address, register) & 0xFF00 | value

    def close(self) -> None:
        """Its words stay."""

"""``[[chip]]`` and ``[wiring]`` as they are read; what is wrong with them is in broken_layouts."""

from firmware_py.layout.electrics import Chip, ChipKind, PiModel
from firmware_py.layout.model import ChipLine
from firmware_py.layout.reading import parse_layout

TEXT = """
[wiring]
pi = "zero2"
led_ma = 2
keep = [4]
serial_console = false

[[chip]]
id = "a-switch"      # a chip may be called what a thing is called
kind = "mcp23017"
address = 0x21

[[chip]]
id = "b"
kind = "mcp23s17"
address = 0x21
select = 1

[[chip]]
id = "gpiochip2"

[[switch]]
id = "a-switch"
lock = "none"
contacts = { normal = "a-switch:14", reverse = "b:15" }
lamps = { green = "a-switch:15", red = "gpiochip2:40" }
"""


def test_chips_and_wiring() -> None:
    layout = parse_layout(TEXT, "f")
    assert layout.chips == (
        Chip("a-switch", ChipKind.MCP23017, 0x21, bus=1),
        Chip("b", ChipKind.MCP23S17, 0x21, bus=0, select=1),
        Chip("gpiochip2", ChipKind.KERNEL),
    )
    assert layout.wiring.pi is PiModel.ZERO_2
    assert (layout.wiring.led_ma, layout.wiring.keep) == (2.0, (4,))
    assert layout.wiring.serial_console is False
    assert layout.switches[0].normal.pin == ChipLine("a-switch", 14)


def test_a_layout_without_them_has_none() -> None:
    text = '[[switch]]\nid = "a"\nlock = "none"\ncontacts = { normal = "x:99", reverse = 2 }\n'
    layout = parse_layout(text, "f")
    assert layout.chips == ()
    assert layout.wiring.pi is None


def test_lines_that_take_a_contact() -> None:
    """14 a chip on I2C, since GPA7 and GPB7 are outputs only (DS20001952 rev. D); 16 on SPI."""
    i2c = Chip("a", ChipKind.MCP23017, 0x20, 1)
    spi = Chip("b", ChipKind.MCP23S17, 0x20)
    assert (len(i2c.inputs), len(spi.inputs)) == (14, 16)
    assert 8 * len(i2c.inputs) == 112
    assert set(i2c.lines) - set(i2c.inputs) == {7, 15}
    assert i2c.header_pins == (2, 3)
    assert spi.header_pins == (7, 8, 9, 10, 11)
    assert Chip("c", ChipKind.MCP23S17, 0x20, bus=1).header_pins == tuple(range(16, 22))
    assert Chip("d", ChipKind.KERNEL).lines == ()

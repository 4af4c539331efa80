"""Expanders on modelled buses, scan by scan, on a clock that moves only in the tests."""

import random
from collections.abc import Callable
from itertools import pairwise

import pytest
from expander_bench import MS, Bench
from expander_exercises import EXERCISES
from gpiozero import GPIOPinInUse
from gpiozero.exc import PinInvalidBounce, PinInvalidPin, PinInvalidPull, PinSetInput

from firmware_py.layout.electrics import ChipKind
from firmware_py.pins.expanders.registers import Register
from firmware_py.pins.wiring import PinsError

KINDS = pytest.mark.parametrize("kind", [ChipKind.MCP23017, ChipKind.MCP23S17])
SILENT = {
    ChipKind.MCP23017: "chip io-0 does not answer: nothing answers at its address "
    "(Remote I/O error)",
    ChipKind.MCP23S17: "chip io-0 does not answer: nothing answers on its chip-select, "
    "or it was reset",
}


@pytest.mark.parametrize("exercise", EXERCISES, ids=lambda exercise: exercise.__name__)
def test_on_the_model(exercise: Callable[[Bench], None]) -> None:
    exercise(Bench())


@KINDS
def test_a_chip_taken_away_and_back(kind: ChipKind) -> None:
    bench = Bench(2, kind)
    gone, stays = bench.watch("io-0:1", "io-1:1")
    lamp = bench.led("io-0:7", lit=True)
    bench.step(3)
    gone.told.clear()
    stays.told.clear()
    bench.chips[0].present = False
    bench.step(3)
    assert gone.told == [], "a burst shorter than a contact's settling is no loss"
    bench.step(3)
    assert gone.levels == [None]
    assert gone.level is None
    assert bench.said() == [(SILENT[kind], True)]
    with pytest.raises(OSError, match="chip io-0 does not answer"):
        lamp.off()
    bench.chips[0].reset()
    bench.chips[0].present = True
    bench.chips[0].pull(1, False)
    bench.step(60)
    assert gone.levels == [None, False]
    assert bench.chips[0].lit(7) is False, "what was wanted meanwhile is written"
    assert bench.said() == [(SILENT[kind], False)]
    lamp.on()
    bench.step()
    assert bench.chips[0].lit(7) is True
    assert stays.told == []


@KINDS
def test_a_chip_that_is_not_there_at_first(kind: ChipKind) -> None:
    bench = Bench(1, kind)
    bench.chips[0].present = False
    [contact] = bench.watch("io-0:1")
    assert contact.level is None
    assert bench.said() == [(SILENT[kind], True)]
    bench.chips[0].present = True
    bench.step(60)
    assert contact.levels == [True]
    assert bench.said() == [(SILENT[kind], False)]


def test_miso_held_low_is_no_chip_with_all_contacts_made() -> None:
    bench = Bench(1, ChipKind.MCP23S17)
    [contact] = bench.watch("io-0:1")
    bench.step(2)
    contact.told.clear()
    bench.wires.floats = 0x00
    bench.chips[0].present = False
    bench.step(10)
    assert contact.levels == [None]


def test_a_reset_chip_on_spi_is_found_by_the_next_scan() -> None:
    """It forgets HAEN, so it no longer heeds its own address (and may heed another's)."""
    bench = Bench(8, ChipKind.MCP23S17)
    watches = bench.watch(*(f"io-{chip}:15" for chip in range(8)))
    bench.step(3)
    for chip in (5, 0):
        bench.chips[chip].reset()
        bench.chips[chip].pull(15, False)
        bench.step(60)
        assert watches[chip].levels[-2:] == [None, False]
    assert [watch.level for watch in watches] == [False, True, True, True, True, False, True, True]


@KINDS
def test_errors_in_short_bursts_lose_no_contact_and_no_change(kind: ChipKind) -> None:
    bench = Bench(3, kind)
    watches = bench.watch(*(f"io-{chip}:{line}" for chip in range(3) for line in range(7)))
    bench.step(3)
    dice = random.Random(4)
    for watch in watches:
        watch.told.clear()
    wanted = [True] * len(watches)
    for _ in range(300):
        chip, line = dice.randrange(3), dice.randrange(7)
        wanted[7 * chip + line] = level = dice.random() < 0.5
        bench.pull(chip, line, level)
        bench.wires.noise = lambda: dice.random() < 0.7
        bench.step(2)
        bench.wires.noise = lambda: False
        bench.step(2)
    assert [watch.level for watch in watches] == wanted
    assert not any(None in watch.levels for watch in watches)
    assert {standing for _, standing in bench.said()} == {False}
    assert all("answered only when it was asked again" in why for why, _ in bench.said())


def test_errors_for_longer_lose_the_contacts_until_they_end() -> None:
    bench = Bench()
    [contact] = bench.watch("io-0:1")
    bench.step(3)
    contact.told.clear()
    bench.wires.noise = lambda: True
    bench.step(200)
    bench.wires.noise = lambda: False
    bench.step(60)
    assert contact.levels == [None, True]
    assert [standing for _, standing in bench.said()] == [False]


def test_a_bus_that_hangs_is_given_up_at_once_and_asked_rarely() -> None:
    bench = Bench(8)
    watches = bench.watch(*(f"io-{chip}:1" for chip in range(8)))
    bench.step(10)
    for watch in watches:
        watch.told.clear()

    def hang() -> None:
        bench.clock.now_ns += 1_000 * MS  # The kernel's own timeout.

    bench.wires.stuck, bench.wires.hangs = True, hang
    before = bench.wires.transactions
    bench.step()
    assert [watch.levels for watch in watches] == [[None]] * 8
    assert bench.wires.transactions == before + 1, "one timeout is enough for all eight"
    bench.step(20, ms=50)
    assert bench.wires.transactions - before < 10
    assert all("the bus hangs" in why and standing for why, standing in bench.said())
    bench.wires.stuck = False
    bench.step(60)
    assert [watch.levels for watch in watches] == [[None, True]] * 8
    assert not any(standing for _, standing in bench.said())


def test_something_else_at_the_address_is_not_taken_for_a_chip() -> None:
    """A PCF8574 has the same addresses (from memory); it does not keep what is written."""
    bench = Bench()
    bench.chips[0].broken = True
    [contact] = bench.watch("io-0:1")
    assert contact.level is None
    assert bench.said() == [
        ("chip io-0 does not answer: what answers there is no MCP23017, or is broken", True)
    ]


def test_a_chip_left_with_its_registers_in_banks_is_set_up_all_the_same() -> None:
    bench = Bench()
    bench.chips[0].registers["IOCON"] = 0x80
    [contact] = bench.watch("io-0:9")
    bench.pull(0, 9, False)
    bench.step()
    assert contact.level is False
    assert bench.said() == []


@KINDS
def test_eight_chips_and_every_line_that_may_be_an_input(kind: ChipKind) -> None:
    bench = Bench(8, kind)
    places = [
        (chip, line)
        for chip in range(8)
        for line in range(16)
        if kind is ChipKind.MCP23S17 or line % 8 != 7
    ]
    assert len(places) == (112 if kind is ChipKind.MCP23017 else 128)
    watches = bench.watch(*(f"io-{chip}:{line}" for chip, line in places))
    bench.step(2)
    for watch in watches:
        watch.told.clear()
    before = bench.wires.transactions
    bench.step(100)
    assert (bench.wires.transactions - before) / 100 == 9, "one read for a chip, one for checking"
    for place, (chip, line) in enumerate(places):
        bench.pull(chip, line, False)
        bench.step()
        assert [len(watch.told) for watch in watches] == [1] * (place + 1) + [0] * (
            len(places) - place - 1
        )
        assert watches[place].levels == [False]


def test_a_storm_of_edges_is_told_truly_and_in_order() -> None:
    bench = Bench(8)
    watches = bench.watch(*(f"io-{chip}:{line}" for chip in range(8) for line in range(7)))
    bench.step(2)
    dice = random.Random(1)
    for _ in range(400):
        for chip in range(8):
            for line in range(7):
                bench.pull(chip, line, dice.random() < 0.5)
        bench.step()
        stand = [bench.chips[chip].level(line) for chip in range(8) for line in range(7)]
        assert [watch.level for watch in watches] == stand
    for watch in watches:
        times, levels = [at for at, _ in watch.told], watch.levels
        assert times == sorted(times)
        assert all(a is not b for a, b in pairwise(levels))
    assert bench.said() == []


def test_an_exception_in_a_callback_ends_nothing() -> None:
    bench = Bench(2)
    bad, good = bench.watch("io-0:1", "io-0:2")
    [other] = bench.watch("io-1:1")
    bench.step(2)

    def fail(ticks: int, level: bool | None) -> None:
        raise ValueError("a defect in a callback")

    bad.device.pin.when_changed = fail
    for level in (False, True, False):
        for chip, line in ((0, 1), (0, 2), (1, 1)):
            bench.pull(chip, line, level)
        bench.step()
    assert good.levels[-3:] == other.levels[-3:] == [False, True, False]
    assert bad.level is False
    assert bench.said() == [("callbacks of I2C bus 1 a defect in a callback", True)]
    assert [trouble.times for trouble in bench.factory.troubles()] == [3]


def test_several_lamps_that_change_together_are_one_write() -> None:
    bench = Bench()
    lamps = [bench.led(f"io-0:{line}") for line in (0, 7, 8, 15)]
    bench.step(2)
    before = len(bench.chips[0].latched)
    for lamp in lamps:
        lamp.on()
    bench.step()
    assert bench.chips[0].latched[before:] == [0x8181]


def test_an_output_never_shows_another_level_first() -> None:
    """Levels are written before directions, at the start and after a brown-out."""
    bench = Bench()
    bench.chips[0].write(Register.OLAT, [0x00, 0x00])
    bench.led("io-0:7", lit=True)
    bench.step(3)
    bench.brown_out(0)
    bench.step(60)
    shown = [olat >> 7 & 1 for iodir, olat in bench.chips[0].driven if not iodir >> 7 & 1]
    assert shown
    assert set(shown) == {1}


def test_closing_leaves_outputs_as_they_were_last_told() -> None:
    bench = Bench()
    red, green = bench.led("io-0:8"), bench.led("io-0:9", lit=True)
    bench.step(2)
    red.on()
    green.off()
    red.close()
    green.close()
    bench.factory.close()
    bench.factory.close()
    assert (bench.chips[0].lit(8), bench.chips[0].lit(9)) == (True, False)
    assert bench.chips[0].lit(10) is None
    assert (bench.wires.opened, bench.wires.closed) == (1, 1)


def test_a_pin_can_be_used_again_the_other_way_round() -> None:
    bench = Bench()
    [contact] = bench.watch("io-0:3")
    contact.device.close()
    lamp = bench.led("io-0:3", lit=True)
    bench.step()
    assert bench.chips[0].lit(3) is True
    lamp.close()
    [contact] = bench.watch("io-0:3")
    bench.pull(0, 3, False)
    bench.step()
    assert contact.level is False
    assert bench.chips[0].lit(3) is None


@pytest.mark.parametrize("line", [7, 15])
def test_bit_7_of_an_i2c_chip_takes_no_contact(line: int) -> None:
    """Microchip DS20001952 since revision D (electronics.md B3)."""
    bench = Bench()
    with pytest.raises(PinsError, match=rf"line {line} \(GP[AB]7\) is an output only"):
        bench.watch(f"io-0:{line}")
    bench.led(f"io-0:{line}")


def test_what_a_pin_can_not_be_is_refused_as_gpiozero_does() -> None:
    bench = Bench()
    [contact] = bench.watch("io-0:3")
    with pytest.raises(GPIOPinInUse):
        bench.led("io-0:3")
    for name in ("io-0:16", "io-9:1", "GPIO5", 5):
        with pytest.raises(PinInvalidPin):
            bench.factory.pin(name)
    pin = contact.device.pin
    with pytest.raises(PinInvalidPull):
        pin.pull = "down"
    with pytest.raises(PinInvalidBounce):
        pin.bounce = 0.01
    with pytest.raises(PinSetInput):
        pin.state = 1
    pin.pull = "floating"
    bench.step()
    assert bench.word(0, Register.GPPU) == 0xFFF7


def test_a_scan_that_can_not_keep_up_is_trouble_until_it_can() -> None:
    bench = Bench(8)
    bench.watch(*(f"io-{chip}:1" for chip in range(8)))

    def slow() -> None:
        bench.clock.now_ns += 3 * MS

    bench.wires.takes = slow
    bench.step(200)
    [(said, standing)] = bench.said()
    assert said.startswith("I2C bus 1 a scan of its 8 chips takes ")
    assert said.endswith("should take 5; set dtparam=i2c_arm_baudrate=400000 in config.txt")
    assert standing
    bench.wires.takes = lambda: None
    bench.step(300)
    assert [standing for _, standing in bench.said()] == [False]

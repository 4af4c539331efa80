"""What is said when a bus can't be opened, and the choice of the factory for each pin."""

import errno
import sys
from types import ModuleType

import pytest
from expander_bench import Bench, until
from expander_model import Expander, FakeSmbus, FakeSpidev, Wires
from gpiozero import LED, DigitalInputDevice, GPIOPinInUse
from pins_fake_gpio import header_chip, kernel_of
from pins_layouts import mill
from pytest_mock import MockerFixture

from firmware_py.layout.electrics import Chip, ChipKind
from firmware_py.pins.board import Board
from firmware_py.pins.chardev import CharDevFactory
from firmware_py.pins.expanders.choosing import LayoutFactory, factory_for
from firmware_py.pins.expanders.factory import ExpanderFactory
from firmware_py.pins.wiring import PinsError

I2C = Chip("stand-a", ChipKind.MCP23017, 0x21, 27)
SPI = Chip("stand-b", ChipKind.MCP23S17, 0x22, 7, 1)
KERNEL = Chip("box", ChipKind.KERNEL)


def refused(chip: Chip) -> str:
    factory = ExpanderFactory([chip])
    with pytest.raises(PinsError) as error:
        factory.claim_inputs([f"{chip.id}:1"])
    assert factory.alive
    factory.close()
    said = str(error.value)
    assert "\n" not in said
    return said


def test_an_i2c_bus_that_is_not_there() -> None:
    assert refused(I2C) == (
        "chip stand-a (MCP23017 at 0x21): /dev/i2c-27 is not there; turn I2C on: sudo "
        "raspi-config, Interface Options, I2C (or dtparam=i2c_arm=on), then reboot"
    )


def test_an_i2c_bus_that_this_user_may_not_use(mocker: MockerFixture) -> None:
    mocker.patch(
        "firmware_py.pins.expanders.i2c.SMBus",
        side_effect=PermissionError(errno.EACCES, "Permission denied"),
    )
    assert refused(I2C) == (
        "chip stand-a (MCP23017 at 0x21): this user may not use /dev/i2c-27; "
        "sudo adduser $USER i2c, then log out and in again"
    )


def test_an_i2c_bus_that_fails_otherwise(mocker: MockerFixture) -> None:
    mocker.patch(
        "firmware_py.pins.expanders.i2c.SMBus",
        side_effect=OSError(errno.ENOTTY, "Inappropriate ioctl for device"),
    )
    assert refused(I2C).endswith("/dev/i2c-27 can't be opened: Inappropriate ioctl for device")


def test_spi_without_its_package(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "spidev", None)
    assert refused(SPI) == (
        "chip stand-b (MCP23S17 at 0x22): SPI needs the Python package spidev, which is not "
        "installed; install python3-dev and gcc with apt, then spurlock[spi] with pip"
    )


def spidev_of(monkeypatch: pytest.MonkeyPatch, wires: Wires, error: OSError | None) -> None:
    class SpiDev(FakeSpidev):
        def __init__(self) -> None:
            super().__init__(wires)

        def open(self, bus: int, device: int) -> None:
            assert (bus, device) == (7, 1)
            if error is not None:
                raise error
            super().open(bus, device)

    module = ModuleType("spidev")
    vars(module)["SpiDev"] = SpiDev
    monkeypatch.setitem(sys.modules, "spidev", module)


def test_an_spi_bus_that_is_not_there(monkeypatch: pytest.MonkeyPatch) -> None:
    spidev_of(monkeypatch, Wires(), FileNotFoundError(errno.ENOENT, "No such file or directory"))
    assert refused(SPI) == (
        "chip stand-b (MCP23S17 at 0x22): /dev/spidev7.1 is not there; turn SPI on: sudo "
        "raspi-config, Interface Options, SPI (or dtparam=spi=on), then reboot"
    )


def test_an_spi_chip_through_spidevs_calls(monkeypatch: pytest.MonkeyPatch) -> None:
    chip = Expander(0x22, spi=True)
    chip.pull(15, False)
    spidev_of(monkeypatch, Wires(chip), None)
    factory = ExpanderFactory([SPI])
    factory.claim_inputs(["stand-b:15", "stand-b:7"])
    assert [factory.pin(f"stand-b:{line}").state for line in (15, 7)] == [False, True]
    assert factory.troubles() == ()
    factory.close()


def test_an_address_that_a_kernel_driver_holds_is_said_with_its_cure() -> None:
    bench = Bench()

    def busy() -> None:
        raise OSError(errno.EBUSY, "Device or resource busy")

    bench.wires.takes = busy
    bench.watch("io-0:1")
    assert bench.said() == [
        (
            "chip io-0 does not answer: a kernel driver holds its address; take its dtoverlay "
            "out of config.txt (Device or resource busy)",
            True,
        )
    ]


def test_a_layout_without_expanders_needs_no_second_factory() -> None:
    kernel = CharDevFactory()
    assert factory_for([], kernel) is kernel
    assert factory_for([KERNEL], kernel) is kernel
    chosen = factory_for([KERNEL, I2C], kernel)
    assert isinstance(chosen, LayoutFactory)
    chosen.close()


def test_each_pin_is_served_by_whom_its_chip_belongs_to(mocker: MockerFixture) -> None:
    chip = Expander(0x21)
    wires = Wires(chip)
    mocker.patch("firmware_py.pins.expanders.i2c.SMBus", side_effect=lambda path: FakeSmbus(wires))
    box = Chip("box", ChipKind.MCP23017, 0x21, 1)
    header = header_chip()
    factory = factory_for([box], CharDevFactory(kernel_of(header)))
    # The mill's rack is on line 3 of the box, its flag's lamp on 8, all else on the header.
    board = Board(mill(), factory)
    assert board.alive
    assert not board.simulated
    assert [sorted(r.settings) for r in header.edges] == [[5, 6, 13]]
    until(lambda: chip.word("IODIR") == 0xFEFF)
    assert board.levels()["mill-flag.rack"] is False
    with pytest.raises(GPIOPinInUse):
        LED("box:3", pin_factory=factory)
    with pytest.raises(GPIOPinInUse):
        LED(5, pin_factory=factory)
    board.close()
    assert chip.lit(8) is False
    again = DigitalInputDevice("box:3", pull_up=True, pin_factory=factory)
    again.close()
    factory.close()
    factory.close()
    assert (wires.opened, wires.closed) == (1, 1)
    assert header.requests == []

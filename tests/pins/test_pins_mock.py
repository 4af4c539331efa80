from collections.abc import Iterator

import gpiozero
import pytest
from gpiozero import LED, DigitalInputDevice
from pins_layouts import contact, mill

from firmware_py.layout.model import ChipLine, HeaderPin, Pin, Role
from firmware_py.pins.mock import SimulatedFactory


@pytest.fixture
def factory() -> Iterator[SimulatedFactory]:
    made = SimulatedFactory(clock_ns=lambda: 7_000)
    yield made
    made.close()


def test_lines_of_other_chips_are_pins_of_their_own(factory: SimulatedFactory) -> None:
    first = DigitalInputDevice("box:3", pull_up=True, pin_factory=factory)
    second = DigitalInputDevice("other:3", pull_up=True, pin_factory=factory)
    factory.pin("box:3").drive_low()
    assert first.is_active
    assert not second.is_active


def test_a_chip_line_cannot_be_used_twice_until_it_is_closed(factory: SimulatedFactory) -> None:
    device = DigitalInputDevice("box:3", pin_factory=factory)
    with pytest.raises(gpiozero.GPIOPinInUse):
        LED("box:3", pin_factory=factory)
    device.close()
    LED("box:3", pin_factory=factory).close()


@pytest.mark.parametrize("name", ["box:", ":3", "box:-1", "box:9999", "box:x", "GPIO99", 99, "box"])
def test_names_that_are_no_pin_are_refused(factory: SimulatedFactory, name: int | str) -> None:
    with pytest.raises(gpiozero.PinInvalidPin):
        factory.pin(name)


def test_headers_own_names_still_work(factory: SimulatedFactory) -> None:
    assert factory.pin("J8:11") is factory.pin(17)


@pytest.mark.parametrize("pin", [HeaderPin(5), ChipLine("box", 3), None])
@pytest.mark.parametrize("inverted", [False, True])
def test_a_hand_makes_and_breaks_a_contact(
    factory: SimulatedFactory, pin: Pin, inverted: bool
) -> None:
    hasp = contact("mill-switch", Role.HASP, pin, inverted)
    name = {HeaderPin: 5, ChipLine: "box:3"}.get(type(pin), "auto:mill-switch.hasp")
    device = DigitalInputDevice(name, pull_up=True, pin_factory=factory)
    factory.hand(hasp, True)
    # Made is circuit closed to ground, so low, unless the contact is inverted.
    assert device.pin.state is inverted
    factory.hand(hasp, False)
    assert device.pin.state is not inverted
    factory.hand(hasp, None)
    assert device.pin.state is None


def test_a_contact_stays_as_the_hand_left_it_when_its_device_is_made_anew(
    factory: SimulatedFactory,
) -> None:
    hasp = contact("mill-switch", Role.HASP, HeaderPin(5))
    factory.hand(hasp, True)
    device = DigitalInputDevice(5, pull_up=True, pin_factory=factory)
    assert device.is_active
    device.close()
    assert DigitalInputDevice(5, pull_up=True, pin_factory=factory).is_active


def test_plain_gpiozero_events_still_come(factory: SimulatedFactory) -> None:
    device = DigitalInputDevice(5, pull_up=True, pin_factory=factory)
    calls = []
    device.when_activated = lambda: calls.append("on")
    device.when_deactivated = lambda: calls.append("off")
    factory.pin(5).drive_low()
    factory.pin(5).drive_low()
    factory.pin(5).drive_high()
    assert calls == ["on", "off"]


def test_edges_are_respected(factory: SimulatedFactory) -> None:
    pin = factory.pin(5)
    pin.pull = "up"
    heard = []

    def watcher(ticks: int, state: bool | None) -> None:
        heard.append((ticks, state))

    pin.edges = "falling"
    pin.when_changed = watcher
    pin.drive_low()
    pin.drive_high()
    assert heard == [(7_000, False)]


def test_an_output_can_be_driven_by_no_hand(factory: SimulatedFactory) -> None:
    led = LED(20, pin_factory=factory)
    with pytest.raises(gpiozero.PinInvalidState):
        led.pin.drive_low()


def test_an_input_can_be_written_by_no_device(factory: SimulatedFactory) -> None:
    with pytest.raises(gpiozero.PinSetInput):
        factory.pin(5).state = 1


def test_no_history_is_kept(factory: SimulatedFactory) -> None:
    led = LED(20, pin_factory=factory)
    for _ in range(100):
        led.toggle()
    assert len(factory.pin(20).states) <= 1


def test_at_rest_is_what_the_rulebook_says(factory: SimulatedFactory) -> None:
    """Section 10: hasps, normal, shut, on and hook made; all else not made."""
    layout = mill()
    factory.rest(layout.contacts)
    made = {
        c.name: factory.pin(5 if c.role is Role.HASP else 6).state is False
        for c in layout.contacts
        if c.role in (Role.HASP, Role.NORMAL)
    }
    assert made == {"mill-switch.hasp": True, "mill-switch.normal": True}
    # The reverse contact is inverted: not made is a closed circuit, so low.
    assert factory.pin(13).state is False
    assert factory.pin("box:3").state is True


def test_ticks_are_nanoseconds(factory: SimulatedFactory) -> None:
    assert factory.ticks() == 7_000
    assert factory.ticks_diff(2_000_000_000, 500_000_000) == 1.5

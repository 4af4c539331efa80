"""gpiozero's own behaviours that this room relies on, checked on the installed gpiozero.

They were read in its source at 2.0.1.post3 (input_devices.py, mixins.py, pins/mock.py, pins/pi.py).
"""

import gc
from collections.abc import Iterator

import gpiozero
import pytest
from gpiozero import LED, DigitalInputDevice
from gpiozero.pins.mock import MockFactory


@pytest.fixture
def factory() -> Iterator[MockFactory]:
    made = MockFactory()
    yield made
    made.close()


def test_making_a_device_calls_nobody_even_if_it_is_active(factory: MockFactory) -> None:
    factory.pin(5).drive_low()
    device = DigitalInputDevice(5, pull_up=True, pin_factory=factory)
    calls = []
    device.when_activated = lambda: calls.append("on")
    assert calls == []


def test_a_pull_up_contact_is_active_when_low(factory: MockFactory) -> None:
    device = DigitalInputDevice(5, pull_up=True, pin_factory=factory)
    assert not device.is_active
    factory.pin(5).drive_low()
    assert device.is_active


def test_the_same_level_again_is_no_event(factory: MockFactory) -> None:
    device = DigitalInputDevice(5, pull_up=True, pin_factory=factory)
    calls = []
    device.when_activated = lambda: calls.append(1)
    factory.pin(5).drive_low()
    factory.pin(5).drive_low()
    assert calls == [1]


def test_a_pin_keeps_only_a_weak_reference_to_its_watcher(factory: MockFactory) -> None:
    device = DigitalInputDevice(5, pull_up=True, pin_factory=factory)
    calls = []

    def kept(ticks: int, state: bool | None) -> None:
        calls.append(state)

    device.pin.when_changed = kept
    factory.pin(5).drive_low()
    device.pin.when_changed = lambda ticks, state: calls.append("dropped")
    gc.collect()
    factory.pin(5).drive_high()
    assert calls == [False]


def test_mock_callbacks_run_in_the_callers_thread_and_their_errors_come_through(
    factory: MockFactory,
) -> None:
    device = DigitalInputDevice(5, pull_up=True, pin_factory=factory)

    def fails() -> None:
        raise RuntimeError("from the callback")

    device.when_activated = fails
    with pytest.raises(RuntimeError, match="from the callback"):
        factory.pin(5).drive_low()


def test_a_mock_pins_history_grows_without_end(factory: MockFactory) -> None:
    led = LED(20, pin_factory=factory)
    for _ in range(1000):
        led.on()
        led.off()
    assert len(factory.pin(20).states) > 2000


def test_a_mock_contact_springs_back_to_its_pull_when_its_device_is_made(
    factory: MockFactory,
) -> None:
    factory.pin(5).drive_low()
    device = DigitalInputDevice(5, pull_up=True, pin_factory=factory)
    assert not device.is_active


def test_an_active_low_output_begins_high(factory: MockFactory) -> None:
    led = LED(20, active_high=False, initial_value=False, pin_factory=factory)
    assert led.pin.state is True
    assert not led.is_lit


def test_a_device_nobody_keeps_is_closed(factory: MockFactory) -> None:
    LED(20, pin_factory=factory)
    gc.collect()
    assert factory.pin(20).function == "input"


def test_a_pin_cannot_be_used_twice(factory: MockFactory) -> None:
    led = LED(20, pin_factory=factory)
    with pytest.raises(gpiozero.GPIOPinInUse):
        DigitalInputDevice(20, pin_factory=factory)
    led.close()


def test_gpiozeros_mock_knows_no_other_chips_pins(factory: MockFactory) -> None:
    with pytest.raises(gpiozero.PinInvalidPin):
        LED("box:3", pin_factory=factory)

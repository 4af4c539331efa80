"""The seam over the real gpiod package, as far as a machine without GPIO chips can tell."""

import inspect

import gpiod
import pytest
from gpiod import _ext
from gpiod._internal import config_iter
from gpiod.line import Bias, Clock, Direction, Edge, Value
from gpiod.line_settings import _line_settings_to_ext

from firmware_py.pins.kernel import (
    EVENT_BUFFER,
    LINES_IN_REQUEST,
    CharacterDevices,
    Kernel,
    is_rising,
    value_of,
)


class Recorder:
    """Takes gpiod's place where it would open a device; binds the real signature."""

    fd = 7

    def __init__(self) -> None:
        self.settings: dict[int, gpiod.LineSettings] = {}
        self.arguments: dict[str, object] = {}
        self.values: list[object] = []
        self.signature = inspect.signature(gpiod.request_lines)

    def request_lines(self, *args: object, **kwargs: object) -> "Recorder":
        self.arguments = self.signature.bind(*args, **kwargs).arguments
        for offset, settings in config_iter(self.arguments["config"]):
            # What gpiod itself does with them before it asks the kernel.
            _ext.LineConfig().add_line_settings([offset], _line_settings_to_ext(settings))
            self.settings[offset] = settings
        return self

    def read_edge_events(self, max_events: int | None = None) -> list[gpiod.EdgeEvent]:
        kind = gpiod.EdgeEvent.Type
        return [gpiod.EdgeEvent(kind.RISING_EDGE.value, 5, 3, 1, 1)]

    def get_values(self, lines: list[int]) -> list[Value]:
        return [Value.ACTIVE for _ in lines]

    def set_values(self, values: dict[int, Value]) -> None:
        self.values.append(values)

    def release(self) -> None:
        self.values.append("released")


@pytest.fixture
def recorder(monkeypatch: pytest.MonkeyPatch) -> Recorder:
    made = Recorder()
    monkeypatch.setattr(gpiod, "request_lines", made.request_lines)
    return made


def test_inputs_are_asked_for_as_gpiod_takes_them(recorder: Recorder) -> None:
    request = Kernel(CharacterDevices()).inputs("/dev/gpiochip0", {3: "up", 4: "down"})
    assert recorder.arguments["path"] == "/dev/gpiochip0"
    assert recorder.arguments["consumer"] == "spurlock"
    assert recorder.arguments["event_buffer_size"] == EVENT_BUFFER
    assert {offset: setting.bias for offset, setting in recorder.settings.items()} == {
        3: Bias.PULL_UP,
        4: Bias.PULL_DOWN,
    }
    for setting in recorder.settings.values():
        assert setting.direction is Direction.INPUT
        assert setting.edge_detection is Edge.BOTH
        assert setting.event_clock is Clock.MONOTONIC
        assert not setting.active_low
        assert not setting.debounce_period
    (event,) = request.read_edge_events()
    assert (is_rising(event), event.line_offset, event.timestamp_ns) == (True, 3, 5)
    assert request.fd == 7
    assert request.get_values([3, 4]) == [Value.ACTIVE, Value.ACTIVE]


@pytest.mark.parametrize("level", [False, True])
def test_an_output_is_asked_for_with_its_level(recorder: Recorder, level: bool) -> None:
    request = Kernel(CharacterDevices()).output("/dev/gpiochip0", 20, level)
    setting = recorder.settings[20]
    assert setting.direction is Direction.OUTPUT
    assert setting.output_value is value_of(level)
    assert not setting.active_low
    request.set_values({20: Value.ACTIVE})
    request.release()
    assert recorder.values == [{20: Value.ACTIVE}, "released"]


def test_the_calls_that_are_used_are_there() -> None:
    for name in ("read_edge_events", "get_values", "set_values", "release", "fd"):
        assert hasattr(gpiod.LineRequest, name)
    assert set(gpiod.EdgeEvent.__annotations__) >= {
        "event_type",
        "timestamp_ns",
        "line_offset",
        "global_seqno",
    }


def test_the_buffer_is_the_most_that_the_kernel_grants() -> None:
    """uapi/linux/gpio.h: event_buffer_size is capped at GPIO_V2_LINES_MAX * 16 (from memory)."""
    assert EVENT_BUFFER == LINES_IN_REQUEST * 16


def test_a_path_that_is_no_chip_cannot_be_looked_at() -> None:
    with pytest.raises(OSError, match="No such file"):
        CharacterDevices().info("/dev/gpiochip-that-is-not-there")
    assert all(gpiod.is_gpiochip_device(path) for path in CharacterDevices().paths())

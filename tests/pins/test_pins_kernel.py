"""The seam over the real gpiod package, as far as a machine without GPIO chips can tell."""

import ctypes
import inspect
import os
from collections.abc import Iterator

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
    value_of,
)
from firmware_py.pins.records import EVENT, LEVELS, RISING, SET_VALUES


class CLineEvent(ctypes.Structure):
    """``struct gpio_v2_line_event``, in the words of linux/gpio.h."""

    _fields_ = (
        ("timestamp_ns", ctypes.c_uint64),
        ("id", ctypes.c_uint32),
        ("offset", ctypes.c_uint32),
        ("seqno", ctypes.c_uint32),
        ("line_seqno", ctypes.c_uint32),
        ("padding", ctypes.c_uint32 * 6),
    )


class LineValues(ctypes.Structure):
    """``struct gpio_v2_line_values``, in the words of linux/gpio.h."""

    _fields_ = (("bits", ctypes.c_uint64), ("mask", ctypes.c_uint64))


def line_event(at_ns: int, kind: int, offset: int, seqno: int, line_seqno: int) -> bytes:
    return bytes(CLineEvent(at_ns, kind, offset, seqno, line_seqno))


class Recorder:
    """Takes gpiod's place where it would open a device; binds the real signature."""

    def __init__(self, fd: int) -> None:
        self.fd = fd
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

    def get_values(self, lines: list[int]) -> list[Value]:
        return [Value.ACTIVE for _ in lines]

    def release(self) -> None:
        self.values.append("released")


@pytest.fixture
def lines() -> Iterator[tuple[int, int]]:
    """A pipe in place of a request's lines: what the kernel writes is put in at its end."""
    ends = os.pipe()
    yield ends
    for fd in ends:
        os.close(fd)


@pytest.fixture
def recorder(monkeypatch: pytest.MonkeyPatch, lines: tuple[int, int]) -> Recorder:
    made = Recorder(lines[0])
    monkeypatch.setattr(gpiod, "request_lines", made.request_lines)
    return made


def test_inputs_are_asked_for_as_gpiod_takes_them(
    recorder: Recorder, lines: tuple[int, int]
) -> None:
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
    assert request.fd == lines[0]
    assert list(request.read_edges()) == []
    for edge in ((5, RISING, 3, 1, 1), (9, 2, 4, 2, 1)):
        os.write(lines[1], line_event(*edge))
    assert list(request.read_edges()) == [(5, RISING, 3, 1, 1), (9, 2, 4, 2, 1)]
    request.release()
    with pytest.raises(OSError, match="Bad file descriptor"):
        request.read_edges()  # And not what another file of the same number has.
    assert request.get_values([3, 4]) == [Value.ACTIVE, Value.ACTIVE]


@pytest.mark.parametrize("level", [False, True])
def test_an_output_is_asked_for_with_its_level(recorder: Recorder, level: bool) -> None:
    request = Kernel(CharacterDevices()).output("/dev/gpiochip0", 20, level)
    setting = recorder.settings[20]
    assert setting.direction is Direction.OUTPUT
    assert setting.output_value is value_of(level)
    assert not setting.active_low
    request.release()
    assert recorder.values == ["released"]
    with pytest.raises(ValueError, match="file descriptor"):
        request.set_level(True)


def test_the_calls_that_are_used_are_there() -> None:
    for name in ("get_values", "release", "fd"):
        assert hasattr(gpiod.LineRequest, name)
    assert gpiod.EdgeEvent.Type.RISING_EDGE.value == RISING


def test_records_are_those_of_the_kernels_header() -> None:
    """linux/gpio.h and asm-generic/ioctl.h: _IOWR is 3 << 30 | size << 16 | type << 8 | number."""
    assert EVENT.size == ctypes.sizeof(CLineEvent)
    assert bytes(LineValues(1, 1)) == LEVELS[True]
    assert bytes(LineValues(0, 1)) == LEVELS[False]
    assert ctypes.sizeof(LineValues) << 16 | 3 << 30 | 0xB4 << 8 | 0x0F == SET_VALUES


def test_the_buffer_is_the_most_that_the_kernel_grants() -> None:
    """uapi/linux/gpio.h: event_buffer_size is capped at GPIO_V2_LINES_MAX * 16 (from memory)."""
    assert EVENT_BUFFER == LINES_IN_REQUEST * 16


def test_a_path_that_is_no_chip_cannot_be_looked_at() -> None:
    with pytest.raises(OSError, match="No such file"):
        CharacterDevices().info("/dev/gpiochip-that-is-not-there")
    assert all(gpiod.is_gpiochip_device(path) for path in CharacterDevices().paths())

"""The gpiozero pin factory over the fake kernel, with its real thread.

Times are waited for with generous limits, never asserted.
"""

import importlib
import queue
import threading
import time
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path

import gpiozero
import pytest
from gpiozero import LED, DigitalInputDevice
from pins_fake_gpio import FakeChip, FakeDevices, header_chip
from pins_layouts import mill

from firmware_py.core.names import Shows
from firmware_py.layout.model import Layout
from firmware_py.pins.board import Board
from firmware_py.pins.chardev import CharDevFactory
from firmware_py.pins.kernel import Kernel
from firmware_py.pins.wiring import PinsError

LONG = 20

Readings = queue.Queue[tuple[int, str, bool | None]]


@pytest.fixture
def header() -> FakeChip:
    return header_chip()


@pytest.fixture
def box() -> FakeChip:
    return FakeChip("gpiochip2", "box", 16)


@pytest.fixture
def factory(header: FakeChip, box: FakeChip) -> Iterator[CharDevFactory]:
    made = CharDevFactory(Kernel(FakeDevices(header, box)), resync_s=0.05)
    yield made
    made.close()


@pytest.fixture
def still(header: FakeChip, box: FakeChip) -> Iterator[CharDevFactory]:
    """Make a factory whose resync never comes in a test's time, so that only edges tell."""
    made = CharDevFactory(Kernel(FakeDevices(header, box)), resync_s=3600)
    yield made
    made.close()


@pytest.fixture
def readings() -> Readings:
    return queue.Queue()


def fit(factory: CharDevFactory, readings: Readings, layout: Layout | None = None) -> Board:
    board = Board(layout or mill(), factory)
    board.watch(lambda *reading: readings.put(reading))
    return board


def until(condition: Callable[[], bool]) -> None:
    deadline = time.monotonic() + LONG
    while not condition():
        assert time.monotonic() < deadline, "it never came about"
        time.sleep(0.005)


def pin_threads() -> list[threading.Thread]:
    return [thread for thread in threading.enumerate() if thread.name == "pins"]


def test_the_entry_point_names_the_factory() -> None:
    root = Path(__file__).parents[2]
    project = tomllib.loads((root / "pyproject.toml").read_text())["project"]
    module, name = project["entry-points"]["gpiozero_pin_factories"]["spurlock"].split(":")
    assert getattr(importlib.import_module(module), name) is CharDevFactory


def test_the_factory_needs_no_hardware_until_a_pin_is_used() -> None:
    CharDevFactory().close()


def test_a_board_asks_each_chip_once_and_has_one_thread(
    still: CharDevFactory, readings: Readings, header: FakeChip, box: FakeChip
) -> None:
    before = len(pin_threads())
    board = fit(still, readings)
    inputs = [r for r in header.live if len(r.settings) > 1]
    assert [sorted(r.settings) for r in inputs] == [[5, 6, 13]]
    assert [sorted(r.settings) for r in box.edges] == [[3]]
    assert len(pin_threads()) == before + 1
    board.close()


def test_edges_reach_the_queue_in_order_with_kernel_time(
    still: CharDevFactory, readings: Readings, header: FakeChip, box: FakeChip
) -> None:
    board = fit(still, readings)
    header.pull(5, False, at_ns=1_000_000)
    assert readings.get(timeout=LONG) == (1_000, "mill-switch.hasp", True)
    box.pull(3, False, at_ns=2_000_999)
    assert readings.get(timeout=LONG) == (2_000, "mill-flag.rack", True)
    header.pull(13, False, at_ns=3_000_000)
    assert readings.get(timeout=LONG) == (3_000, "mill-switch.reverse", False)
    assert board.levels() == {
        "mill-switch.hasp": True,
        "mill-switch.normal": False,
        "mill-switch.reverse": False,
        "mill-flag.rack": True,
    }
    board.close()


def test_levels_there_from_the_start_are_read_and_not_put(
    still: CharDevFactory, readings: Readings, header: FakeChip
) -> None:
    header.pull_silently(6, False)
    board = fit(still, readings)
    assert board.levels()["mill-switch.normal"] is True
    header.pull(5, False)
    assert readings.get(timeout=LONG)[1] == "mill-switch.hasp"
    board.close()


def test_a_gap_is_mended_without_waiting_for_the_resync(
    still: CharDevFactory, readings: Readings, header: FakeChip
) -> None:
    board = fit(still, readings)
    header.pull_silently(6, False)
    header.drop_edge()
    header.pull(5, False, at_ns=1_000_000)
    assert readings.get(timeout=LONG) == (1_000, "mill-switch.hasp", True)
    assert readings.get(timeout=LONG)[1:] == ("mill-switch.normal", True)
    board.close()


def test_a_missed_edge_is_found_by_the_resync(
    factory: CharDevFactory, readings: Readings, header: FakeChip
) -> None:
    board = fit(factory, readings)
    header.pull_silently(6, False)
    assert readings.get(timeout=LONG)[1:] == ("mill-switch.normal", True)
    board.close()


def test_a_chip_dies_and_comes_back_and_the_others_go_on(
    factory: CharDevFactory, readings: Readings, header: FakeChip, box: FakeChip
) -> None:
    board = fit(factory, readings)
    board.show("mill-flag", "lamp", Shows.STEADY)
    box.die()
    assert readings.get(timeout=LONG)[1:] == ("mill-flag.rack", None)
    assert board.levels()["mill-flag.rack"] is None
    header.pull(5, False)
    assert readings.get(timeout=LONG)[1:] == ("mill-switch.hasp", True)
    board.refresh()
    assert {t.at for t in board.troubles() if t.standing} == {"box", "mill-flag.lamp"}
    box.levels = [False] * 16
    box.come_back()
    assert readings.get(timeout=LONG)[1:] == ("mill-flag.rack", True)
    board.refresh()
    assert box.levels[8] is True
    assert not any(trouble.standing for trouble in board.troubles())
    board.close()


def test_a_board_begins_with_a_chip_that_is_absent(
    factory: CharDevFactory, readings: Readings, box: FakeChip
) -> None:
    box.die()
    board = fit(factory, readings)
    assert board.levels()["mill-flag.rack"] is None
    board.show("mill-flag", "lamp", Shows.STEADY)
    assert "mill-flag.lamp" in {trouble.at for trouble in board.troubles()}
    box.come_back()
    assert readings.get(timeout=LONG)[1:] == ("mill-flag.rack", False)
    board.refresh()
    assert box.levels[8] is True
    board.close()


def test_a_callback_that_raises_silences_nobody(still: CharDevFactory, header: FakeChip) -> None:
    first = DigitalInputDevice(5, pull_up=True, pin_factory=still)
    second = DigitalInputDevice(6, pull_up=True, pin_factory=still)
    heard = queue.Queue()

    def fails() -> None:
        raise RuntimeError("from the callback")

    first.when_activated = fails
    second.when_activated = lambda: heard.put("second")
    for _ in range(2):
        header.pull(5, False)
        header.pull(5, True)
    header.pull(6, False)
    assert heard.get(timeout=LONG) == "second"
    assert still.alive
    (trouble,) = [t for t in still.troubles() if t.at == "pin callbacks"]
    assert (trouble.times, trouble.why) == (2, "from the callback")


def test_plain_devices_made_one_by_one_all_work(still: CharDevFactory, header: FakeChip) -> None:
    header.pull_silently(7, False)
    devices = [DigitalInputDevice(bcm, pull_up=True, pin_factory=still) for bcm in (5, 6, 7)]
    assert [device.value for device in devices] == [0, 0, 1]
    heard = queue.Queue()
    for device in devices:
        device.when_activated = lambda device=device: heard.put(device.pin.info.name)
        device.when_deactivated = lambda device=device: heard.put(device.pin.info.name)
    for bcm in (5, 6):
        header.pull(bcm, False)
        assert heard.get(timeout=LONG) == f"GPIO{bcm}"
    header.pull(7, True)
    assert heard.get(timeout=LONG) == "GPIO7"
    assert len(header.requests) == 1


def test_more_than_64_contacts_at_once(still: CharDevFactory) -> None:
    """Stock lgpio crashes at 65 edge lines in one process (measured with its 0.2.2.0 wheel)."""
    chips = [FakeChip(f"gpiochip{n + 5}", f"wall{n}", 100) for n in range(2)]
    factory = CharDevFactory(Kernel(FakeDevices(*chips)), resync_s=3600)
    names = [f"wall{n}:{line}" for n in range(2) for line in range(100)]
    factory.claim_inputs(names)
    assert [len(chip.edges) for chip in chips] == [2, 2]
    heard = queue.Queue()
    devices = [DigitalInputDevice(name, pull_up=True, pin_factory=factory) for name in names]
    for name, device in zip(names, devices, strict=True):
        device.when_activated = lambda name=name: heard.put(name)
    assert [chip.made for chip in chips] == [2, 2]
    for chip in chips:
        for line in range(100):
            chip.pull(line, False)
    assert {heard.get(timeout=LONG) for _ in names} == set(names)
    for device in devices:
        device.close()
    factory.close()


def test_outputs_are_at_their_safe_level_from_the_first_moment(
    still: CharDevFactory, header: FakeChip
) -> None:
    led = LED(20, pin_factory=still)
    inverted = LED(16, active_high=False, pin_factory=still)
    assert header.history == [(20, False), (16, True)]
    led.on()
    inverted.on()
    assert header.history[2:] == [(20, True), (16, False)]
    assert (led.value, inverted.value) == (1, 1)
    led.close()
    inverted.close()
    assert header.requests == []


def test_an_output_finds_its_chip_again(still: CharDevFactory, box: FakeChip) -> None:
    led = LED("box:8", pin_factory=still)
    box.die()
    with pytest.raises(OSError, match="no GPIO chip"):
        led.on()
    box.come_back()
    led.on()
    assert box.levels[8] is True


def test_a_line_may_change_from_contact_to_lamp(still: CharDevFactory, header: FakeChip) -> None:
    contact = DigitalInputDevice(5, pull_up=True, pin_factory=still)
    other = DigitalInputDevice(6, pull_up=True, pin_factory=still)
    contact.close()
    led = LED(5, pin_factory=still)
    led.on()
    assert header.levels[5] is True
    led.close()
    again = DigitalInputDevice(5, pull_up=True, pin_factory=still)
    assert again.value == 0
    assert other.value == 0


def test_debouncing_is_refused(still: CharDevFactory) -> None:
    with pytest.raises(gpiozero.PinInvalidBounce, match="does not debounce"):
        DigitalInputDevice(5, pull_up=True, bounce_time=0.05, pin_factory=still)


def test_header_pins_with_fixed_pulls_are_respected(still: CharDevFactory) -> None:
    with pytest.raises(gpiozero.PinFixedPull):
        DigitalInputDevice(2, pull_up=False, pin_factory=still)
    assert DigitalInputDevice(3, pull_up=True, pin_factory=still).value == 0


@pytest.mark.parametrize("name", ["box:", "box:x", "auto:mill-switch.hasp", 28, "GND"])
def test_names_that_are_no_pin_are_refused(still: CharDevFactory, name: int | str) -> None:
    with pytest.raises(gpiozero.PinInvalidPin):
        LED(name, pin_factory=still)


def test_a_line_the_chip_does_not_have_is_named(still: CharDevFactory) -> None:
    with pytest.raises(PinsError, match="box has lines 0 to 15, so no line 16"):
        LED("box:16", pin_factory=still)
    with pytest.raises(PinsError, match="box has lines 0 to 15, so no line 17"):
        DigitalInputDevice("box:17", pull_up=True, pin_factory=still)


def test_wires_without_a_pin_are_refused_and_named(still: CharDevFactory) -> None:
    with pytest.raises(PinsError, match=r"mill-switch\.hasp, mill-switch red; on real pins"):
        Board(mill(hasp=None, red=None), still)


def test_the_thread_goes_on_whatever_stumbles(
    factory: CharDevFactory, readings: Readings, header: FakeChip, monkeypatch: pytest.MonkeyPatch
) -> None:
    board = fit(factory, readings)
    bank = factory.bank("box")
    monkeypatch.setattr(bank, "resync", lambda: 1 / 0)
    until(lambda: any(t.at == "pin thread" for t in factory.troubles()))
    monkeypatch.undo()
    header.pull(5, False)
    assert readings.get(timeout=LONG)[1:] == ("mill-switch.hasp", True)
    assert factory.alive
    board.close()


def test_idle_reads_nothing_between_resyncs(
    still: CharDevFactory, readings: Readings, header: FakeChip
) -> None:
    board = fit(still, readings)
    header.pull(5, False)
    readings.get(timeout=LONG)
    reads = header.reads
    header.pull(5, True)
    readings.get(timeout=LONG)
    # Edges alone told of the change: no level was read.
    assert header.reads == reads
    board.close()


def test_closing_gives_everything_back_with_the_board_safe(
    still: CharDevFactory, readings: Readings, header: FakeChip, box: FakeChip
) -> None:
    board = fit(still, readings)
    board.show("mill-switch", "bolt", Shows.DRAWN)
    board.show("mill", "power", Shows.ON)
    assert header.levels[12]
    assert header.levels[17]
    board.close()
    assert not header.levels[12]
    assert not header.levels[17]
    assert header.levels[21] is True
    still.close()
    still.close()
    assert header.requests == []
    assert box.requests == []
    assert not still.alive

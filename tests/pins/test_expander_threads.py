"""The scan with its real thread. Times are waited for with generous limits, never asserted."""

import threading
import time
from collections.abc import Callable, Iterator

import pytest
from expander_bench import LONG_S, FakeBus, chips_of, until
from expander_model import Expander, Wires
from gpiozero import LED, DigitalInputDevice
from pytest_mock import MockerFixture

from firmware_py.layout.electrics import Chip
from firmware_py.pins.expanders.factory import ExpanderFactory
from firmware_py.pins.expanders.link import Bus


@pytest.fixture
def chips() -> list[Expander]:
    return [Expander(0x20 + place) for place in range(3)]


@pytest.fixture
def wires(chips: list[Expander]) -> Wires:
    return Wires(*chips)


@pytest.fixture
def factory(wires: Wires) -> Iterator[ExpanderFactory]:
    def open_bus(chip: Chip) -> Bus:
        return FakeBus(wires, spi=False)

    made = ExpanderFactory(chips_of(3), open_bus)
    yield made
    made.close()


def scans() -> list[threading.Thread]:
    return [thread for thread in threading.enumerate() if thread.name == "I2C bus 1"]


def test_claiming_waits_for_the_first_reading_and_has_one_thread(
    factory: ExpanderFactory, chips: list[Expander]
) -> None:
    chips[1].pull(4, False)
    factory.claim_inputs(["io-0:4", "io-1:4", "io-2:4"])
    assert [factory.pin(f"io-{chip}:4").state for chip in range(3)] == [True, False, True]
    assert len(scans()) == 1
    assert factory.alive
    factory.close()
    assert scans() == []
    assert not factory.alive


def test_plain_gpiozero_devices_work(factory: ExpanderFactory, chips: list[Expander]) -> None:
    chips[0].pull(2, False)
    contact = DigitalInputDevice("io-0:2", pull_up=True, pin_factory=factory)
    assert contact.is_active
    opened, closed = threading.Event(), threading.Event()
    contact.when_deactivated = opened.set
    contact.when_activated = closed.set
    chips[0].pull(2, True)
    assert opened.wait(LONG_S)
    chips[0].pull(2, False)
    assert closed.wait(LONG_S)
    lamp = LED("io-1:7", pin_factory=factory)
    lamp.on()
    until(lambda: chips[1].lit(7) is True)
    lamp.close()
    contact.close()


def test_stamps_are_the_monotonic_clocks(factory: ExpanderFactory, chips: list[Expander]) -> None:
    contact = DigitalInputDevice("io-0:2", pull_up=True, pin_factory=factory)
    stamps: list[int] = []
    heard = threading.Event()

    def changed(ticks: int, level: bool | None) -> None:
        stamps.append(ticks)
        heard.set()

    contact.pin.when_changed = changed
    before = time.monotonic_ns()
    chips[0].pull(2, False)
    assert heard.wait(LONG_S)
    assert before <= stamps[0] <= time.monotonic_ns()
    contact.close()


def test_writing_never_waits_for_a_bus_that_hangs(
    factory: ExpanderFactory, chips: list[Expander], wires: Wires
) -> None:
    factory.claim_inputs(["io-0:2"])
    lamp = LED("io-0:7", pin_factory=factory)
    until(lambda: chips[0].lit(7) is False)
    hangs, goes_on = threading.Event(), threading.Event()

    def hang() -> None:
        hangs.set()
        goes_on.wait(LONG_S)

    wires.hangs, wires.stuck = hang, True
    assert hangs.wait(LONG_S)
    lamp.on()
    assert factory.pin("io-0:2").state is True, "the last that is known"
    assert lamp.is_lit
    assert chips[0].lit(7) is False
    wires.stuck = False
    goes_on.set()
    until(lambda: chips[0].lit(7) is True)
    lamp.close()


def test_a_defect_of_the_scan_itself_is_counted_and_the_scan_goes_on(
    factory: ExpanderFactory, chips: list[Expander], wires: Wires
) -> None:
    factory.claim_inputs(["io-0:2"])
    failed = threading.Event()

    def fail() -> None:
        if not failed.is_set():
            failed.set()
            raise ValueError("a defect")

    wires.takes = fail
    assert failed.wait(LONG_S)
    chips[0].pull(2, False)
    until(lambda: factory.pin("io-0:2").state is False)
    assert factory.alive
    assert ("thread of I2C bus 1", "a defect") in [(t.at, t.why) for t in factory.troubles()]


def test_a_scan_that_stands_still_is_not_alive(
    factory: ExpanderFactory, wires: Wires, mocker: MockerFixture
) -> None:
    mocker.patch("firmware_py.pins.expanders.scanner.STUCK_NS", 50_000_000)
    factory.claim_inputs(["io-0:2"])
    goes_on = threading.Event()
    wires.takes = lambda: goes_on.wait(LONG_S) and None
    until(lambda: not factory.alive)
    goes_on.set()
    until(lambda: factory.alive)


def test_a_scan_of_eight_chips_is_no_busy_loop() -> None:
    """What the thread itself costs, in processor time; a slow machine only makes it fewer scans."""
    wires = Wires(*(Expander(0x20 + place) for place in range(8)))

    def open_bus(chip: Chip) -> Bus:
        return FakeBus(wires, spi=False)

    factory = ExpanderFactory(chips_of(8), open_bus)
    factory.claim_inputs([f"io-{chip}:{line}" for chip in range(8) for line in range(7)])
    before, began = wires.transactions, time.monotonic()
    time.sleep(1.0)
    done, took = wires.transactions - before, time.monotonic() - began
    factory.close()
    assert 0 < done / 9 <= 1.1 * took / 0.005, "no more scans than one in 5 ms"


def test_all_at_once(factory: ExpanderFactory, chips: list[Expander], wires: Wires) -> None:
    """Contacts from several hands, lamps from several threads, chips that fail, devices rebuilt."""
    names = [f"io-{chip}:{line}" for chip in range(3) for line in range(6)]
    factory.claim_inputs(names)
    wrong: list[str] = []
    last: dict[str, tuple[int, object]] = {}

    def watcher(name: str) -> Callable[[int, bool | None], None]:
        def changed(ticks: int, level: bool | None) -> None:
            at, before = last.get(name, (0, ...))
            if level is before:
                wrong.append(f"{name} told twice of {level}")
            if ticks < at:
                wrong.append(f"{name}: time ran back")
            last[name] = (ticks, level)

        return changed

    watchers = {name: watcher(name) for name in names}
    devices = [DigitalInputDevice(name, pull_up=True, pin_factory=factory) for name in names]
    for name, device in zip(names, devices, strict=True):
        device.pin.when_changed = watchers[name]
    lamps = [LED(f"io-{chip}:7", pin_factory=factory) for chip in range(3)]
    done = threading.Event()

    def hands(chip: int) -> None:
        for turn in range(300):
            chips[chip].pull(turn % 6, turn % 4 < 2)
            time.sleep(0.001)

    def shine(place: int) -> None:
        while not done.is_set():
            try:
                lamps[place].toggle()
            except OSError:
                time.sleep(0.001)
            time.sleep(0.0005)

    def trouble() -> None:
        while not done.wait(0.05):
            chips[0].present = not chips[0].present
            chips[1].reset()
            rebuilt = DigitalInputDevice("io-2:8", pull_up=True, pin_factory=factory)
            rebuilt.close()

    work = [threading.Thread(target=hands, args=(chip,)) for chip in range(3)]
    plague = [threading.Thread(target=shine, args=(chip,)) for chip in range(3)]
    plague.append(threading.Thread(target=trouble))
    for thread in (*work, *plague):
        thread.start()
    for thread in work:
        thread.join()
    done.set()
    for thread in plague:
        thread.join()
    chips[0].present = True
    stand = {f"io-{c}:{n}": chips[c].outside.get(n, True) for c in range(3) for n in range(6)}
    until(lambda: {name: factory.pin(name).state for name in names} == stand)
    for place, lamp in enumerate(lamps):
        lamp.on()
        until(lambda place=place: chips[place].lit(7) is True)
    assert wrong == []
    assert factory.alive
    for device in (*devices, *lamps):
        device.close()

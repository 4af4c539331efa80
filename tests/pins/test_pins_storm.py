"""All at once: edges from several threads, missed edges, lines that come and go, a dying chip."""

import random
import threading
import time
from collections.abc import Callable

from gpiozero import DigitalInputDevice
from pins_fake_gpio import FakeChip, kernel_of

from firmware_py.pins.chardev import CharDevFactory

WATCHED = 100
HANDS = 4


class Watch:
    """Notes what one contact's watcher is told, and what must not be."""

    def __init__(self) -> None:
        self.level: bool | None = None
        self.ticks = 0
        self.told = 0
        self.wrong: list[str] = []

    def changed(self, ticks: int, level: bool | None) -> None:
        if self.told and level is self.level:
            self.wrong.append(f"told twice of {level}")
        if ticks < self.ticks:
            self.wrong.append("time ran back")
        self.told += 1
        self.ticks, self.level = ticks, level


def pull_at_random(chip: FakeChip, hand: int) -> None:
    dice = random.Random(hand)
    mine = WATCHED // HANDS
    for _ in range(6000):
        line = hand * mine + dice.randrange(mine)
        chip.pull(line, dice.random() < 0.5)
        if dice.random() < 0.01:
            chip.pull_silently(line, dice.random() < 0.5)
        if dice.random() < 0.01:
            time.sleep(0.001)


def come_and_go(chip: FakeChip, factory: CharDevFactory, done: threading.Event) -> None:
    dice = random.Random(99)
    while not done.wait(0.02):
        device = DigitalInputDevice("wide:110", pull_up=True, pin_factory=factory)
        device.close()
        if dice.random() < 0.3:
            chip.die()
            time.sleep(0.03)
            chip.come_back()


def until(condition: Callable[[], bool]) -> bool:
    deadline = time.monotonic() + 20
    while not condition() and time.monotonic() < deadline:
        time.sleep(0.01)
    return condition()


def test_what_was_told_is_true_in_the_end_and_never_absurd() -> None:
    chip = FakeChip("gpiochip3", "wide", 130)
    factory = CharDevFactory(kernel_of(chip), resync_s=0.02)
    names = [f"wide:{line}" for line in range(WATCHED)]
    factory.claim_inputs(names)
    devices = [DigitalInputDevice(name, pull_up=True, pin_factory=factory) for name in names]
    watches = [Watch() for _ in names]
    for device, watch in zip(devices, watches, strict=True):
        device.pin.when_changed = watch.changed
    done = threading.Event()
    hands = [threading.Thread(target=pull_at_random, args=(chip, n)) for n in range(HANDS)]
    churn = threading.Thread(target=come_and_go, args=(chip, factory, done))
    for thread in (*hands, churn):
        thread.start()
    for hand in hands:
        hand.join()
    done.set()
    churn.join()

    def settled() -> bool:
        return all(
            not watch.told or watch.level is level
            for watch, level in zip(watches, chip.levels, strict=False)
        )

    assert until(settled)
    assert [wrong for watch in watches for wrong in watch.wrong] == []
    assert sum(watch.told for watch in watches) > 1000
    assert factory.alive
    assert not [t for t in factory.troubles() if t.at in ("pin thread", "pin callbacks")]
    factory.close()

"""``Board``: a layout's contacts, lamps, bolts, power relays and buzzers as gpiozero devices."""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable, Iterable, Mapping
from types import MappingProxyType
from typing import Any, Protocol

from gpiozero import LED, Buzzer, DigitalInputDevice, DigitalOutputDevice

from firmware_py.core.names import Shows
from firmware_py.layout.model import Contact, Layout, outputs_of
from firmware_py.layout.model import Output as Wire
from firmware_py.pins.drives import Drive, Output
from firmware_py.pins.flasher import Flasher
from firmware_py.pins.resting import Rests
from firmware_py.pins.trouble import Trouble
from firmware_py.pins.wiring import PinsError, pin_name

Put = Callable[[int, str, bool | None], None]
"""Takes a raw reading: kernel monotonic microseconds, ``thing.role``, made (None: lost)."""

DEVICES: Mapping[Output, Any] = {
    Output.BOLT: DigitalOutputDevice,
    Output.POWER: DigitalOutputDevice,
    Output.BUZZER: Buzzer,
    Output.RED: LED,
    Output.GREEN: LED,
    Output.WHITE: LED,
    Output.LAMP: LED,
}

URGENCY = {output: place for place, output in enumerate(Output)}


class PinFactory(Protocol):
    """The two factories of this room: gpiozero's own methods and these. Ticks are nanoseconds."""

    @property
    def simulated(self) -> bool:
        """Whether no hardware is behind it; then wires need no pin."""

    @property
    def alive(self) -> bool:
        """Whether changes are still being noticed."""

    def claim_inputs(self, names: Iterable[int | str]) -> None:
        """Take these as inputs with pull-ups, before their devices are made."""

    def troubles(self) -> tuple[Trouble, ...]:
        """Report what went wrong, counted."""


class Board:
    """All devices of a layout, kept open until ``close``.

    ``show``, ``refresh`` and ``safe`` belong to one thread, the engine's; the others may be called
    from any. ``clock_ns`` is the flasher's clock, in monotonic nanoseconds. The factory stays its
    maker's to close.

    Errors: ``PinsError`` if real pins are wanted and wires have none, or a chip refuses;
    ``gpiozero.GPIOPinInUse`` and gpiozero's other errors for pins it can't use so.
    """

    def __init__(
        self,
        layout: Layout,
        factory: PinFactory,
        clock_ns: Callable[[], int] = time.monotonic_ns,
    ) -> None:
        self._factory = factory
        self._flasher = Flasher(clock_ns)
        self._contacts: dict[str, tuple[Any, bool]] = {}
        self._drives: dict[tuple[str, str], Drive] = {}
        self._watchers: list[Callable[[int, bool | None], None]] = []
        self._rests = Rests((), None, clock_ns)
        wires = [(thing.id, *pair) for thing in layout.things for pair in outputs_of(thing)]
        if not factory.simulated:
            _refuse_pinless(layout.contacts, wires)
        try:
            factory.claim_inputs([pin_name(c.pin, c.name) for c in layout.contacts])
            for contact in layout.contacts:
                self._fit_contact(contact)
            for of, output, wire in wires:
                self._fit_output(of, Output(output), wire)
            bolts = [drive for drive in self._drives.values() if drive.output is Output.BOLT]
            self._rests = Rests(bolts, layout.wiring.longest_drawn_s, clock_ns)
        except BaseException:
            self.close()
            raise

    @property
    def simulated(self) -> bool:
        """Whether the pins are simulated."""
        return self._factory.simulated

    @property
    def alive(self) -> bool:
        """Whether changes of contacts are still being noticed."""
        return self._factory.alive

    @property
    def contacts(self) -> Mapping[str, DigitalInputDevice]:
        """The contacts' devices by ``thing.role``."""
        return MappingProxyType({name: device for name, (device, _) in self._contacts.items()})

    @property
    def outputs(self) -> Mapping[tuple[str, str], DigitalOutputDevice]:
        """The outputs' devices by ``(thing, output)``."""
        return MappingProxyType({key: drive.device for key, drive in self._drives.items()})

    def levels(self) -> dict[str, bool | None]:
        """Read every contact now: made, not made, or ``None`` where it can't be read."""
        levels: dict[str, bool | None] = {}
        for name, (device, made_when) in self._contacts.items():
            try:
                state = device.pin.state
            except OSError:
                state = None
            levels[name] = None if state is None else bool(state) is made_when
        return levels

    def watch(self, put: Put) -> None:
        """Have every change put from now on; present levels are not put, ``levels`` has them.

        Watch first and read the levels after, so that no change falls between. ``put`` is called
        in the pin thread (simulated: in the thread whose hand it was) and must only queue. It
        replaces an earlier one.
        """
        watchers = []
        for name, (device, made_when) in self._contacts.items():
            watcher = _watcher(put, name, made_when)
            # In place of the device's own handler, which would cost two events and two calls for
            # each edge. The pin keeps only a weak reference.
            device.pin.when_changed = watcher
            watchers.append(watcher)
        self._watchers = watchers

    def show(self, of: str, output: str, shows: Shows) -> None:
        """Have an output show something, at once. A wire that fails is counted, not raised.

        Errors: ``KeyError`` for an output the layout does not have, ``ValueError`` for what such
        an output can't show.
        """
        self._drives[of, output].show(shows)

    def say_rests_to(self, say: Callable[[str], None]) -> None:
        """Have it told, in words, that a bolt's coil begins to rest."""
        self._rests.say = say

    def shown(self) -> dict[tuple[str, str], Shows]:
        """Tell what each output was last told to show, by ``(thing, output)``."""
        return {key: drive.shows for key, drive in self._drives.items()}

    def refresh(self) -> None:
        """Write all outputs once more; this is what mends a wire whose chip was gone.

        A bolt that was drawn for too long begins to rest here, so this wants to come often.
        """
        self._rests.look()
        for drive in self._drives.values():
            if self._rests.rests(drive):
                drive.light(False)
            else:
                drive.refresh()

    def safe(self) -> tuple[str, ...]:
        """Shut bolts, switch power and buzzers off, light red steadily, darken all other lamps.

        Never raises, and goes on past a wire that fails; returns what failed, in words.
        """
        drives = sorted(self._drives.values(), key=lambda drive: URGENCY[drive.output])
        failures = [drive.make_safe() for drive in drives]
        return tuple(failure for failure in failures if failure is not None)

    def troubles(self) -> tuple[Trouble, ...]:
        """All that went wrong so far with wires, chips and callbacks, counted."""
        wires = [trouble for drive in self._drives.values() for trouble in drive.tally.report()]
        return (*wires, *self._factory.troubles())

    def close(self) -> None:
        """Make safe, and give all pins back. Never raises; may be called twice."""
        self.safe()
        self._flasher.close()
        devices = [device for device, _ in self._contacts.values()]
        devices += [drive.device for drive in self._drives.values()]
        for device in devices:
            # A dead chip must not keep the other pins from being given back.
            with contextlib.suppress(Exception):
                device.close()
        self._contacts.clear()
        self._drives.clear()
        self._watchers.clear()

    def _fit_contact(self, contact: Contact) -> None:
        device = DigitalInputDevice(
            pin_name(contact.pin, contact.name), pull_up=True, pin_factory=self._factory
        )
        # A closed circuit pulls the pin low; an inverted contact is made while it is open.
        self._contacts[contact.name] = (device, contact.inverted)

    def _fit_output(self, of: str, output: Output, wire: Wire) -> None:
        at = f"{of}.{output}"
        device = DEVICES[output](
            pin_name(wire.pin, at),
            active_high=not wire.inverted,
            initial_value=False,
            pin_factory=self._factory,
        )
        self._drives[of, output.value] = Drive(at, output, device, self._flasher)


def _watcher(put: Put, name: str, made_when: bool) -> Callable[[int, bool | None], None]:
    """Make the whole path from a contact's pin to the queue, which is this one call."""
    made = {made_when: True, not made_when: False, None: None}

    def changed(ticks: int, state: bool | None) -> None:
        put(ticks // 1000, name, made[state])

    return changed


def _refuse_pinless(contacts: Iterable[Contact], wires: Iterable[tuple[str, str, Wire]]) -> None:
    names = [contact.name for contact in contacts if contact.pin is None]
    names += [f"{of} {output}" for of, output, wire in wires if wire.pin is None]
    if names:
        raise PinsError(
            f'no pin yet ("auto") for {", ".join(names)}; on real pins each needs a BCM number '
            'or "chip:line", or run with simulated pins'
        )

"""What only a Pi can get wrong, judged from the facts alone; no file is looked at here."""

from __future__ import annotations

import re
from collections.abc import Iterator

from firmware_py.service.doctor.boot_file import I2C_SPEED, STRICT, levels_at_boot, parameters
from firmware_py.service.doctor.findings import Finding, care, untold, well
from firmware_py.service.doctor.pi_facts import DrivenPin, PiFacts

LONGEST_WATCHDOG_S = 15.0
"""The Pi's timer ends at 2^20 / 65,536 = 16 s (calculated); see failing-safe.md."""
COILS = ("bolt", "power", "buzzer")
FORGETFUL = ("overlay", "tmpfs", "ramfs", "squashfs")
I2C_HEADER_BUS = 1
I2C_USUAL_SPEED = 100_000
"""Where nothing is said (Linux for the Pi, overlays README)."""

_ASKED = re.compile(r"^\s*RuntimeWatchdogSec\s*=\s*(.*?)\s*$", re.MULTILINE)
_SPAN = re.compile(r"([\d.]+)\s*([a-z]*)")
_UNITS = {
    "": 1.0,
    "s": 1.0,
    "sec": 1.0,
    "ms": 1e-3,
    "us": 1e-6,
    "m": 60.0,
    "min": 60.0,
    "h": 3600.0,
}


def judge(facts: PiFacts) -> list[Finding]:
    """All five."""
    return [boot(facts), pulls(facts), i2c(facts), watchdog(facts), overlay(facts)]


def boot(facts: PiFacts) -> Finding:
    """Whether the kernel lets go of the outputs of an engine that was killed."""
    asked = STRICT in parameters(facts.config or "")
    asked = asked or "persist_gpio_outputs=n" in facts.cmdline
    kept = "a killed engine's outputs stay as they were"
    if facts.persist is False or (facts.persist is None and facts.is_pi and asked):
        return well("boot", f"{STRICT} is set: the outputs of a killed engine are let go of")
    if not facts.is_pi:
        return untold("boot", "this is no Raspberry Pi, whose boot settings are known here")
    if asked:
        return care("boot", f"{STRICT} is written but not in force: {kept}", "reboot")
    do = f"add dtparam={STRICT} to config.txt and reboot; spurlock install adds it"
    return care("boot", f"{STRICT} is not set: {kept}", do)


def pulls(facts: PiFacts) -> Finding:
    """Whether a pin's pull energises what hangs on it, before Spurlock runs."""
    if facts.driven is None:
        return untold("pulls", "name the layout, and its output pins are looked at")
    wrong = [f"{pin.name} (GPIO {pin.bcm})" for pin in _energised(facts)]
    if wrong:
        do = "put it on GPIO 9 to 13 or 16 to 27 with an active-high driver, as spurlock plan does"
        return care("pulls", f"energised at power-up, before Spurlock runs: {', '.join(wrong)}", do)
    return well("pulls", "no bolt, power, buzzer or green lamp is energised at power-up")


def _energised(facts: PiFacts) -> Iterator[DrivenPin]:
    """Coils, and green, which must not show before it is proven; other lamps may."""
    levels = levels_at_boot(facts.config or "")
    for pin in facts.driven or ():
        if pin.output in (*COILS, "green") and levels.get(pin.bcm) is (not pin.inverted):
            yield pin


def i2c(facts: PiFacts) -> Finding:
    """Whether the bus of the expander chips is as fast as it should be."""
    if facts.driven is None:
        return untold("i2c", "name the layout, and the bus of its chips is looked at")
    if not facts.buses:
        return well("i2c", "no chip of the layout hangs on it")
    slow = {bus: speed for bus in facts.buses if (speed := _speed(facts, bus)) is not None}
    slow = {bus: speed for bus, speed in slow.items() if speed < I2C_SPEED}
    if slow:
        says = ", ".join(f"bus {bus} runs at {speed / 1000:g} kHz" for bus, speed in slow.items())
        do = f"write dtparam=i2c_arm_baudrate={I2C_SPEED} into config.txt and reboot"
        return care("i2c", f"{says}; {I2C_SPEED / 1000:g} kHz is meant", do)
    if all(_speed(facts, bus) is None for bus in facts.buses):
        return untold("i2c", "this machine does not tell the speed of its bus")
    return well("i2c", f"the chips' bus runs at {I2C_SPEED / 1000:g} kHz or more")


def _speed(facts: PiFacts, bus: int) -> int | None:
    if bus in facts.speeds:
        return facts.speeds[bus]
    if bus != I2C_HEADER_BUS or not facts.is_pi:
        return None
    said = parameters(facts.config or "").get("i2c_arm_baudrate", "")
    return int(said) if said.isdecimal() else I2C_USUAL_SPEED


def watchdog(facts: PiFacts) -> Finding:
    """Whether a hung kernel is ended, and by a time that the hardware can keep."""
    said = _ASKED.findall(facts.manager)
    seconds = seconds_of(said[-1]) if said else 0.0
    do = "write RuntimeWatchdogSec=14s under [Manager] in system.conf; spurlock install does"
    if not facts.watchdog:
        return untold("watchdog", "this machine has no hardware watchdog")
    if seconds is None:
        return care("watchdog", f"RuntimeWatchdogSec={said[-1]} can't be understood here", do)
    if seconds == 0:
        return care("watchdog", "a hung kernel is not ended, and outputs stay as they were", do)
    if facts.is_pi and seconds > LONGEST_WATCHDOG_S:
        limit = f"{seconds:g} s is more than the Pi's timer can wait"
        return care("watchdog", f"{limit}: there may be no watchdog at all", do)
    return well("watchdog", f"a hung kernel is ended after {seconds:g} s")


def overlay(facts: PiFacts) -> Finding:
    """Whether the data outlast a power-off."""
    if facts.filesystem is None:
        return untold("overlay", "this machine does not tell what the logbook lies on")
    if facts.filesystem == "overlay" and not facts.is_pi:
        return untold("overlay", "the logbook lies on an overlay; whose, this can't tell")
    if facts.filesystem in FORGETFUL:
        do = "give the logbook a partition of its own that is not overlaid, or end the overlay"
        says = f"the logbook lies on {facts.filesystem}: all of it is gone at the next power-off"
        return care("overlay", says, do)
    return well("overlay", f"the logbook lies on {facts.filesystem}")


def seconds_of(text: str) -> float | None:
    """A time span of systemd's (systemd.time(7)) in seconds; ``None`` if it is not understood."""
    if text in ("", "off", "0"):
        return 0.0
    parts = _SPAN.findall(text)
    if "".join("".join(part) for part in parts) != text.replace(" ", ""):
        return None
    try:
        return sum(float(number) * _UNITS[unit] for number, unit in parts)
    except (KeyError, ValueError):
        return None

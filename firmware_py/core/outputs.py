"""What lamps, bolts, power and buzzers show: the table of rulebook section 9, one function each.

Only what the layout has fitted is worked out. Where a row could be steady and flashing at
once, it flashes: flashing is the more urgent (IEC 60073's meaning, from memory).
"""

from __future__ import annotations

from collections.abc import Callable

from firmware_py.core.names import Shows, Stage
from firmware_py.core.protections import Protection, RackProtection
from firmware_py.core.spur import Spur
from firmware_py.core.switch import Switch

Look = Callable[[], Shows]
OpenHere = Callable[[], int]
"""How many violations stand unacknowledged at the stand."""


def green(switch: Switch, open_here: OpenHere) -> Look:
    """Steady while secured, with no fault at the switch and nothing unacknowledged there."""

    def look() -> Shows:
        safe = switch.stage is Stage.SECURED and not switch.faults and not open_here()
        return Shows.STEADY if safe else Shows.OFF

    return look


def red(switch: Switch, open_here: OpenHere) -> Look:
    """Flashing while a violation stands there unacknowledged, else steady where not green."""

    def look() -> Shows:
        if open_here():
            return Shows.FLASHING
        safe = switch.stage is Stage.SECURED and not switch.faults
        return Shows.OFF if safe else Shows.STEADY

    return look


def white(switch: Switch, spurs: tuple[Spur, ...]) -> Look:
    """Flashing while the next step is at the switch, steady while a spur is the crew's."""

    def look() -> Shows:
        if any(spur.next_step == switch.id for spur in spurs):
            return Shows.FLASHING
        return Shows.STEADY if any(spur.is_open() for spur in spurs) else Shows.OFF

    return look


def lamp(protection: Protection, spur: Spur) -> Look:
    """Flashing while the next step is there; steady for a displayed flag."""
    is_flag = protection in spur.flags

    def look() -> Shows:
        if spur.next_step == protection.step:
            return Shows.FLASHING
        if is_flag and isinstance(protection, RackProtection) and protection.is_out():
            return Shows.STEADY
        return Shows.OFF

    return look


def bolt(switch: Switch, spurs: tuple[Spur, ...]) -> Look:
    """Drawn for whoever may unlock, or has; never on a fault at the switch or before it."""

    def look() -> Shows:
        may = switch.stage is not Stage.SECURED or not spurs
        may = may or any(spur.ready_for(switch.id) for spur in spurs)
        sound = not switch.faults and all(spur.sound_before(switch.id) for spur in spurs)
        return Shows.DRAWN if may and sound else Shows.SHUT

    return look


def power(spur: Spur) -> Look:
    """On for a spur that is lined and the crew's, with no flag displayed; never on a guess."""
    switch = spur.switch

    def look() -> Shows:
        lined = switch.stage is Stage.LINED or switch.stage is Stage.IN_USE
        on = lined and switch.is_known() and spur.is_open()
        return Shows.ON if on and not any(flag.is_out() for flag in spur.flags) else Shows.OFF

    return look

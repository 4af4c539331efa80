"""What stands where, in words and short lines for a terminal of 80 columns."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from textwrap import wrap

from firmware_py.layout.advice import Advice, pins_of
from firmware_py.layout.model import ChipLine, HeaderPin, Layout, Lock, Spur, Trap
from firmware_py.layout.silence import Silent
from firmware_py.layout.wires import pin_name

WIDTH = 79


def summary(layout: Layout) -> Iterator[str]:
    """Lines that say what the layout has: heading, spurs with their orders, keys, traps."""
    scale = f"{layout.scale}, " if layout.scale else ""
    yield f"{layout.name}: {scale}1:{layout.ratio:g}, clock {layout.clock_ratio:g}:1"
    yield from _wrapped("", _counts(layout))
    yield _wiring(layout)
    yield ""
    yield from _spurs(layout)
    if layout.keys:
        yield from _wrapped("keys  ", ", ".join(key.id for key in layout.keys))
    for trap in layout.traps:
        yield from _wrapped("trap  ", _trap(trap))


def silence(silent: Sequence[Silent]) -> Iterator[str]:
    """Lines that say which rules can't speak for which things; none if all can."""
    groups: dict[tuple[str, tuple[str, ...]], list[str]] = {}
    for one in silent:
        groups.setdefault((one.why, one.rules), []).append(one.thing)
    if groups:
        yield "Silent rules, for want of something to judge by:"
    for (why, rules), things in groups.items():
        yield from _wrapped("  ", f"{', '.join(things)} ({why}): {', '.join(rules)}", hang=2)


def advice(pieces: Sequence[Advice]) -> Iterator[str]:
    """Lines of advice; none if there is none."""
    if pieces:
        yield "Advice:"
    for piece in pieces:
        yield from _wrapped("  ", f"{piece.about}: {piece.text}", hang=2)


def pin_list(layout: Layout) -> Iterator[str]:
    """A line for every wire with its pin, header pins first: for the bench."""
    yield "Pins (BCM numbers; low voltage only, and track power on none of them):"
    for name, pin in sorted(pins_of(layout), key=lambda wire: _pin_order(wire[1])):
        yield f"  {pin_name(pin):<16} {name}"


def _pin_order(pin: HeaderPin | ChipLine | None) -> tuple[int, str, int]:
    match pin:
        case HeaderPin(bcm):
            return 0, "", bcm
        case ChipLine(chip, line):
            return 1, chip, line
        case _:
            return 2, "", 0


def _counts(layout: Layout) -> str:
    kinds = (
        (layout.switches, "switch", "switches"),
        (layout.spurs, "spur", "spurs"),
        (layout.gates, "gate", "gates"),
        (layout.derails, "derail", "derails"),
        (layout.flags, "flag", "flags"),
        (layout.chocks, "chock", "chocks"),
        (layout.keys, "key", "keys"),
        (layout.traps, "trap", "traps"),
    )
    return ", ".join(f"{len(kind)} {one if len(kind) == 1 else many}" for kind, one, many in kinds)


def _wiring(layout: Layout) -> str:
    pins = [pin for _, pin in pins_of(layout)]
    header = sum(isinstance(pin, HeaderPin) for pin in pins)
    chips = sum(isinstance(pin, ChipLine) for pin in pins)
    waiting = len(pins) - header - chips
    contacts = len(layout.contacts)
    where = f"{header} on the header, {chips} on other chips, {waiting} without a pin"
    return f"{contacts} contacts, {len(pins) - contacts} outputs: {where}"


def _spurs(layout: Layout) -> Iterator[str]:
    if not layout.spurs:
        return
    wide = max(len("SPUR"), *(len(spur.id) for spur in layout.spurs))
    locks = {switch.id: switch.lock for switch in layout.switches}
    yield f"{'SPUR':<{wide}}  LOCK  FOREMAN  GRADE  ORDER"
    for spur in layout.spurs:
        lock = "yes" if locks[spur.switch] is Lock.PADLOCK else "no"
        facts = f"{lock:<4}  {spur.foreman:<7}  {spur.grade_percent:>3g} %"
        head = f"{spur.id:<{wide}}  {facts}  "
        if spur.opening == spur.closing:
            yield from _wrapped(head, f"both: {_order(spur, spur.opening)}", hang=6)
            continue
        yield from _wrapped(head, f"off:  {_order(spur, spur.opening)}", hang=6)
        yield from _wrapped(" " * len(head), f"back: {_order(spur, spur.closing)}", hang=6)


def _order(spur: Spur, order: Sequence[str]) -> str:
    return ", ".join(name.removeprefix(f"{spur.id}-") for name in order)


def _trap(trap: Trap) -> str:
    limit = "no limit" if trap.limit_mph is None else f"limit {trap.limit_mph:.3g} scale mph"
    lamp = "" if trap.lamp is None else ", with a lamp"
    return f"{trap.id}: {trap.first} to {trap.second}, {trap.distance_mm:g} mm, {limit}{lamp}"


def _wrapped(head: str, text: str, hang: int = 0) -> list[str]:
    """The text after its head, broken between words, later lines ``hang`` deeper than the head."""
    deeper = " " * (min(len(head), WIDTH // 2) + hang)
    return wrap(
        text,
        WIDTH,
        initial_indent=head,
        subsequent_indent=deeper,
        break_long_words=False,
        break_on_hyphens=False,
    )

"""What the group is told before it begins, from the layout's own numbers."""

from __future__ import annotations

from dataclasses import dataclass

from firmware_py.core.pace import LEAKAGE_WAIT_SECONDS, brake_test_seconds
from firmware_py.layout.model import ForemanKind, Layout, Spur

CUTS = (1, 3, 5, 10)
"""Numbers of cars whose brake test is told."""


@dataclass(frozen=True, slots=True)
class Briefing:
    """The part of the briefing that differs from layout to layout.

    ``limits`` are traps with their scale miles per hour, ``asked`` the spurs for whose foreman
    the host answers, ``waits`` those of the others with how long their foremen take, and
    ``tests`` numbers of cars with how long their brake test takes.
    """

    name: str
    ratio: str
    limits: tuple[tuple[str, str], ...]
    asked: tuple[str, ...]
    waits: tuple[tuple[str, str], ...]
    tests: tuple[tuple[int, str], ...]
    leakage: str
    restore: str
    relock: str
    give_back: str


def briefing_of(layout: Layout) -> Briefing:
    """The numbers of a layout in words."""
    waits = layout.wait_ratio
    times = layout.times
    return Briefing(
        layout.name,
        number(layout.clock_ratio),
        tuple(
            (trap.name, number(trap.limit_mph))
            for trap in layout.traps
            if trap.limit_mph is not None
        ),
        tuple(spur.name for spur in layout.spurs if spur.foreman is ForemanKind.HOST),
        tuple(
            (spur.name, _wait(spur, layout.wait_scale))
            for spur in layout.spurs
            if spur.foreman is ForemanKind.AUTO
        ),
        tuple((cars, span(brake_test_seconds(cars, waits))) for cars in CUTS),
        span(LEAKAGE_WAIT_SECONDS / waits),
        span(times.restore_within_us / 1e6),
        span(times.relock_within_us / 1e6),
        span(times.return_within_us / 1e6),
    )


def number(value: float) -> str:
    """A number without needless digits."""
    return f"{value:.3g}" if value < 1000 else f"{value:.0f}"


def span(seconds: float) -> str:
    """A time as people say it, rounded up to whole seconds."""
    whole = max(1, round(seconds + 0.4999))
    minutes, rest = divmod(whole, 60)
    if not minutes:
        return f"{rest} s"
    return f"{minutes} min {rest} s" if rest and minutes < 10 else f"{minutes} min"


def _wait(spur: Spur, scale: float) -> str:
    low, high = (span(us * scale / 1e6) for us in spur.foreman_us)
    return low if low == high else f"{low} to {high}"

"""Numbers that arithmetic can bear: each is checked on its way in, and refused in plain words."""

from __future__ import annotations

from math import isfinite

GREATEST = 1e9
"""No number of a layout, in any unit used here, comes near it."""


LEAST = 1e-9
"""What is above 0 is at least so much, so that dividing by it stays an ordinary number."""


class UnsoundError(ValueError):
    """A number that can't be worked with; the message says which, and what would be right."""


def finite(name: str, value: float) -> float:
    """``value``, if it is an ordinary number."""
    if not isfinite(value) or abs(value) > GREATEST:
        raise UnsoundError(f"{name} must be an ordinary number, not {value:g}")
    return float(value)


def above_zero(name: str, value: float) -> float:
    """``value``, if it is an ordinary number above 0."""
    if finite(name, value) < LEAST:
        raise UnsoundError(f"{name} must be above 0, not {value:g}")
    return float(value)


def not_below_zero(name: str, value: float) -> float:
    """``value``, if it is an ordinary number and not below 0."""
    if finite(name, value) < 0:
        raise UnsoundError(f"{name} must not be below 0, not {value:g}")
    return float(value)


def between(name: str, value: float, low: float, high: float) -> float:
    """``value``, if it lies within the bounds, ends included."""
    if not low <= finite(name, value) <= high:
        raise UnsoundError(f"{name} must be from {low:g} to {high:g}, not {value:g}")
    return float(value)


def whole(name: str, value: int, low: int, high: int) -> int:
    """``value``, if it is a whole number within the bounds, ends included."""
    if isinstance(value, bool) or int(between(name, value, low, high)) != value:
        raise UnsoundError(f"{name} must be a whole number, not {value:g}")
    return int(value)

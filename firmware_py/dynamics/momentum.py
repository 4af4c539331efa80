"""A decoder's momentum by NMRA S-9.2.2 (July 2012): seconds, distances, and their inverse.

CV3 and CV4 give 0.896 x CV / (steps in use) seconds a step, so full speed to rest takes
0.896 x CV4 seconds whatever the step mode. Their row leaves "uniform spec" blank: a maker may do
otherwise, which is why a measured stop corrects the prediction (``stopping.py``).
"""

from __future__ import annotations

from firmware_py.dynamics.sound import above_zero, not_below_zero, whole

SECONDS_FOR_CV = 0.896
GREATEST_CV = 255
"""Values are 8 bits wide (from memory; implied by the standard's bit patterns)."""

SIGN_BIT = 128


def adjusted(cv: int, adjustment: int = 0) -> int:
    """CV3 with CV23, or CV4 with CV24: bits 0 to 6 add, or with bit 7 set subtract; it clips."""
    base = whole("CV3 or CV4", cv, 0, GREATEST_CV)
    extra = whole("CV23 or CV24", adjustment, 0, GREATEST_CV)
    signed = -(extra - SIGN_BIT) if extra >= SIGN_BIT else extra
    return max(0, min(GREATEST_CV, base + signed))


def seconds_a_step(cv: int, steps: int) -> float:
    """How long the decoder stays at each of ``steps`` speed steps."""
    return SECONDS_FOR_CV * whole("CV3 or CV4", cv, 0, GREATEST_CV) / whole("steps", steps, 1, 128)


def seconds_to_rest(cv4: float, part_of_full: float = 1.0) -> float:
    """From ``part_of_full`` speed (step k of N is k/N) to rest; from rest up to it with CV3."""
    part = not_below_zero("the part of full speed", part_of_full)
    return SECONDS_FOR_CV * not_below_zero("CV4", cv4) * part


def even_distance(speed: float, seconds: float) -> float:
    """How far something runs while its speed falls evenly to rest, in the speed's unit x s."""
    return not_below_zero("the speed", speed) * not_below_zero("the time", seconds) / 2


def exact_cv4(full_mm_per_s: float, distance_mm: float, part_of_full: float = 1.0) -> float:
    """The CV4, not rounded, that stops in ``distance_mm`` from ``part_of_full`` of full speed.

    d = (v x part) x (0.896 x CV4 x part) / 2, turned round.
    """
    speed = above_zero("the full speed", full_mm_per_s)
    part = above_zero("the part of full speed", part_of_full)
    distance = above_zero("the stopping distance", distance_mm)
    return 2 * distance / (speed * part * SECONDS_FOR_CV * part)


def staircase(distance: float, steps: int, *, held_first: bool) -> float:
    """The distance walked down a staircase of ``steps``: even times (1 + 1/N) or (1 - 1/N).

    ``held_first`` where the step in force is held for one interval before it first drops.
    """
    count = whole("steps", steps, 1, 128)
    return distance * (1 + (1 if held_first else -1) / count)

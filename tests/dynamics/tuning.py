"""Sets a random motor up the way a host would, and says how far off it then is."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from random import Random

from msgspec.structs import replace

from firmware_py.dynamics.advising import Advice, Measured, Question, advise
from firmware_py.dynamics.drive import PLAIN_TRIM, Drive
from firmware_py.dynamics.scale_speed import MM_PER_FOOT, model_mm_per_s
from firmware_py.dynamics.throttle import Run
from firmware_py.dynamics.trapping import SPACING_MM, TIMING_S
from tests.dynamics.motor import Motor, random_motor

TRAP_MM = 305.0
LOCAL_MPH = 40.0
"""Nobody wants more of a local (common practice); an 8-bit setting is too coarse above it."""

STEPS = range(2, 29, 2)
HO = 87.1
"""Two to three feet is said of HO and smaller; larger scales take the same scale distance."""

RATIOS = (220.0, 160.0, 120.0, 87.1, 64.0, 48.0)


@dataclass(frozen=True)
class Outcome:
    """Relative errors of the top speed each way, and of the stop before and after correction."""

    forward: float
    reverse: float
    stop_before: float
    stop_after: float
    coarse: bool

    @property
    def good(self) -> bool:
        """Within 3 % of the wanted top speed each way, and 10 % of the wanted stop."""
        top = max(abs(self.forward), abs(self.reverse))
        return top <= 0.03 and abs(self.stop_after) <= 0.1


def trap_says(
    true_mph: float, ratio: float, motor: Motor, spacing_mm: float, dice: Random
) -> float:
    """What a trap reads of a pass: the motor's mood, and two stamps with their jitter."""
    mph = true_mph * dice.gauss(1, motor.noise)
    if mph <= 0:
        return 0.0
    seconds = (TRAP_MM + spacing_mm) / model_mm_per_s(mph, ratio)
    jitter = dice.uniform(-TIMING_S, TIMING_S) - dice.uniform(-TIMING_S, TIMING_S)
    return TRAP_MM / (seconds + jitter) * ratio / 447.04


def tuned(seed: int) -> Outcome:
    """Measure, advise, stop once, correct, and look what the motor truly does."""
    dice = Random(seed)
    motor, ratio = random_motor(dice), dice.choice(RATIOS)
    spacing = dice.uniform(-SPACING_MM, SPACING_MM)
    drive = Drive()

    def passes(steps: Iterable[int]) -> tuple[Run, ...]:
        """Two passes each way at each step."""
        return tuple(
            Run(step, forward, trap_says(true, ratio, motor, spacing, dice))
            for step in steps
            for forward in (True, False)
            for true in [motor.mph(drive.level(step), forward=forward)] * 2
        )

    runs = passes(STEPS)
    most = motor.most_mph * min(1, motor.reverse_part)
    wanted = min(most * dice.uniform(0.35, 0.75), LOCAL_MPH)
    stop_mm = dice.uniform(2, 3) * MM_PER_FOOT * max(1.0, HO / ratio)
    asked = Question(ratio=ratio, runs=runs, stop_mm=stop_mm, drive=drive, top_mph=wanted)
    asked = replace(asked, runs=(*runs, *passes(advise(asked).again)))
    first = advise(asked)
    before = _stop_mm(motor, first, ratio)
    entry = trap_says(motor.mph(first.settings.table[-1]), ratio, motor, spacing, dice)
    ruler = before * dice.gauss(1, 0.01)
    stop = Measured(cv4=first.braking.cv, from_step=28, stopped_mm=ruler, entry_mph=entry)
    second = advise(replace(asked, measured=stop))
    top = second.settings.table[-1]
    trimmed = top * second.settings.reverse_trim / PLAIN_TRIM
    after = _stop_mm(motor, second, ratio)
    return Outcome(
        forward=motor.mph(top) / wanted - 1,
        reverse=motor.mph(trimmed, forward=False) / wanted - 1,
        stop_before=before / stop_mm - 1,
        stop_after=after / stop_mm - 1,
        coarse=second.braking.coarse,
    )


def _stop_mm(motor: Motor, advice: Advice, ratio: float) -> float:
    run = motor.stop_s(advice.settings.table, advice.braking.cv)
    return run * model_mm_per_s(1, ratio)

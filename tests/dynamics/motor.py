"""A simulated locomotive that the fit knows nothing about: what it does to a drive level."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp
from random import Random

from firmware_py.dynamics.drive import TABLE_STEPS, table_level
from firmware_py.dynamics.momentum import SECONDS_FOR_CV


@dataclass(frozen=True)
class Motor:
    """Dead band, saturation, unlike directions, flywheel, and a decoder with its own timing."""

    dead: float
    bend: float
    most_mph: float
    reverse_part: float
    noise: float
    lag_s: float
    timing: float
    holds_first: bool

    def mph(self, level: float, *, forward: bool = True) -> float:
        """The true speed at a drive level."""
        if level <= self.dead:
            return 0.0
        part = (min(level, 255.0) - self.dead) / (255.0 - self.dead)
        curve = (1 - exp(-self.bend * part)) / (1 - exp(-self.bend)) if self.bend else part
        return self.most_mph * (1.0 if forward else self.reverse_part) * curve

    def stop_s(self, table: tuple[int, ...], cv4: int, from_step: int = TABLE_STEPS) -> float:
        """Scale-mph seconds run from a step to rest: the decoder walks down, the flywheel lags."""
        dt = 0.01
        each = SECONDS_FOR_CV * cv4 / TABLE_STEPS * self.timing
        speed = self.mph(table_level(table, from_step))
        run, clock = 0.0, 0.0
        while True:
            walked = int(clock / each) + (0 if self.holds_first else 1)
            step = max(0, from_step - walked)
            driven = self.mph(table_level(table, step))
            speed += (driven - speed) * dt / self.lag_s
            if step == 0 and speed < 0.01 * self.most_mph / 100:
                return run
            run += speed * dt
            clock += dt


def random_motor(random: Random) -> Motor:
    """One of the sort that is on layouts: slow shunters and racers, old and new."""
    return Motor(
        dead=random.uniform(5, 70),
        bend=random.uniform(-1.0, 2.5),
        most_mph=random.uniform(25, 110),
        reverse_part=random.uniform(0.88, 1.12),
        noise=random.uniform(0.003, 0.015),
        lag_s=random.uniform(0.05, 0.4),
        timing=random.uniform(0.8, 1.2),
        holds_first=random.random() < 0.5,
    )

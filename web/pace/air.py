"""A brake test told beforehand: what the published text asks, and the gauge over time. Pure."""

from __future__ import annotations

from typing import Any

from firmware_py.dynamics.air import (
    LEAK_MINUTES,
    LEAK_PSI_A_MINUTE,
    SOURCE_PSI,
    AirTest,
    Work,
    air_test,
    gauge_psi,
)

POINTS = 48


def air_view(cars: int, miles: float, work: Work, clock_ratio: float) -> dict[str, Any]:
    """The test, its waits by the real clock, and ``gauge``: (real seconds, psi) from empty."""
    test = air_test(miles, cars, work)
    charge_s = test.charge_minutes * 60 / clock_ratio
    drawn_s = charge_s * 1.25
    return {
        "test": test.name,
        "source": f"{test.source} (2015 edition)",
        "asks": _asks(test),
        "charge_psi": test.charge_psi,
        "drop_psi": test.drop_psi,
        "source_psi": SOURCE_PSI,
        "clock_ratio": clock_ratio,
        "charge_s": round(charge_s, 1),
        "leak_s": round(LEAK_MINUTES * 60 / clock_ratio, 1),
        "walk_s": round(test.walk_minutes * 60 / clock_ratio, 1),
        "layout_minutes": round(test.minutes, 1),
        "real_s": round(test.minutes * 60 / clock_ratio, 1),
        "gauge": [
            (round(at, 2), round(gauge_psi(at / 60, cars, clock_ratio), 2))
            for at in (drawn_s * number / POINTS for number in range(POINTS + 1))
        ],
    }


def _asks(test: AirTest) -> list[str]:
    return [
        f"The rear gauge shows {test.charge_psi:g} psi at least.",
        f"A {test.drop_psi:g} psi reduction; {test.asks}.",
        f"Leakage of {LEAK_PSI_A_MINUTE:g} psi a minute at most, read after 45 to 60 s."
        if test.charge_psi > 60
        else "No leakage figure is asked for in this test.",
    ]

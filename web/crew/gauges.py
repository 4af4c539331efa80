"""What is being waited for and since when, as gauges. Pure; times are session time in us.

The brake pipe's pressure is a model: with a source of 90 psi, ``psi(t) = 90 (1 - exp(-t / tau))``
with tau = 0.279 n minutes for n cars, divided by the layout's clock ratio, reaches 60 psi at the
end of the charging that the brake test's time is made of.
"""

from __future__ import annotations

from typing import Any

from firmware_py.core.pace import CHARGE_MINUTES_FOR_CAR, LEAKAGE_WAIT_SECONDS
from firmware_py.layout.model import FOREMAN, ForemanKind
from web.crew.scene import Evening, Place, traps_at
from web.live.passes import speed_view, toward_says

SOURCE_PSI = 90.0
ENOUGH_PSI = 60.0
TAU_MINUTES_FOR_CAR = 0.279

Gauge = dict[str, Any]


def gauges(place: Place, evening: Evening) -> list[Gauge]:
    """The gauges of a spur at which a crew is; empty where nothing is waited for or was read."""
    return [*_foreman(place), *_brakes(place, evening), *_speed(place, evening)]


def _foreman(place: Place) -> list[Gauge]:
    """``earliest_us`` and ``latest_us`` are ``None`` where a person answers: no end is known."""
    work, spur = place.work, place.spur
    if work.next != FOREMAN or work.foreman not in {"asked", "held"}:
        return []
    by_itself = spur.foreman is ForemanKind.AUTO and work.foreman == "asked"
    low, high = spur.foreman_us
    says = "The foreman says not yet" if work.foreman == "held" else "The foreman's answer"
    return [
        {
            "id": "foreman",
            "says": says,
            "since_us": work.asked_us,
            "earliest_us": work.asked_us + low if by_itself else None,
            "latest_us": work.asked_us + high if by_itself else None,
        }
    ]


def _brakes(place: Place, evening: Evening) -> list[Gauge]:
    """A brake test as it runs: the charging of the pipe, then the wait for leaks."""
    work = place.work
    if work.test != "running" or work.test_ends_us is None or not work.cars:
        return []
    ratio = evening.plan.layout.wait_ratio
    leakage_us = round(LEAKAGE_WAIT_SECONDS / ratio * 1e6)
    charging_us = round(work.cars * CHARGE_MINUTES_FOR_CAR * 60 / ratio * 1e6)
    charged_us = work.test_ends_us - leakage_us
    cars = "1 car" if work.cars == 1 else f"{work.cars} cars"
    return [
        {
            "id": "charging",
            "says": f"Brake pipe of {cars} charging",
            "since_us": charged_us - charging_us,
            "until_us": charged_us,
            "tau_us": round(work.cars * TAU_MINUTES_FOR_CAR * 60 / ratio * 1e6),
            "source_psi": SOURCE_PSI,
            "enough_psi": ENOUGH_PSI,
        },
        {
            "id": "leakage",
            "says": "Waiting for leaks to show",
            "since_us": charged_us,
            "until_us": work.test_ends_us,
        },
    ]


def _speed(place: Place, evening: Evening) -> list[Gauge]:
    """The last pass of a trap of this spur in the crew's own round, while it works."""
    if place.round is None or place.phase != "working" or place.work.test == "running":
        return []
    traps = traps_at(place.row, evening)
    for t_us, at, mph in reversed(evening.board.speeds):
        if at in traps and t_us >= place.round.began_us:
            speed = speed_view(traps[at], mph, evening.plan.layout.ratio)
            toward = toward_says(evening.plan, evening.toward.get((t_us, at), ""))
            told = {"speed_says": speed.pop("says"), "toward": toward}
            return [{"id": "speed", "says": traps[at].name, "at_us": t_us, **speed, **told}]
    return []

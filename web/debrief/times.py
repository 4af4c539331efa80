"""Session time as people read it. Pure."""

from __future__ import annotations

MINUTE_S = 60
HOUR_S = 3600


def clock(t_us: int) -> str:
    """A moment of the session, as its clock shows it.

    >>> clock(3_723_900_000)
    '1:02:03'
    """
    seconds = max(0, t_us) // 1_000_000
    return f"{seconds // HOUR_S}:{seconds // MINUTE_S % 60:02}:{seconds % 60:02}"


def lasting(us: float) -> str:
    """How long something lasted, in a form that is short enough for a label.

    >>> lasting(4_260_000), lasting(42_000_000), lasting(185_000_000), lasting(3_725_000_000)
    ('4.3 s', '42 s', '3 min 05 s', '1 h 02 min')
    """
    if us < 9_950_000:
        return f"{us / 1_000_000:.1f} s"
    seconds = round(us / 1_000_000)
    if seconds < MINUTE_S:
        return f"{seconds} s"
    if seconds < HOUR_S:
        return f"{seconds // MINUTE_S} min {seconds % MINUTE_S:02} s"
    return f"{seconds // HOUR_S} h {seconds // MINUTE_S % 60:02} min"


STEPS_S = (5, 10, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 28800)
MOST_TICKS = 12


def axis_ticks(length_us: int, most: int = MOST_TICKS) -> list[tuple[int, str]]:
    """Round moments along an axis from 0 to ``length_us``, each with its label.

    >>> axis_ticks(1_500_000_000, 4)
    [(0, '0:00'), (600000000, '0:10'), (1200000000, '0:20')]
    """
    fitting = (step for step in STEPS_S if length_us <= step * 1_000_000 * most)
    step_s = next(fitting, max(STEPS_S[-1], -(-length_us // (most * 1_000_000))))
    moments = range(0, length_us // 1_000_000 + 1, step_s)
    with_seconds = step_s < MINUTE_S
    return [(at * 1_000_000, _label(at, with_seconds=with_seconds)) for at in moments]


def _label(at_s: int, *, with_seconds: bool) -> str:
    hours_minutes = f"{at_s // HOUR_S}:{at_s // MINUTE_S % 60:02}"
    return f"{hours_minutes}:{at_s % 60:02}" if with_seconds else hours_minutes

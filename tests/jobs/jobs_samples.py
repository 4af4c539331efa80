"""Jobs on Tarn Hollow, and texts of which jobs may be made."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st
from web_filled import LAYOUT as TARN

from firmware_py.layout.reading import parse_layout
from firmware_py.logbook.screen.job_checks import ill_formed, tidy
from firmware_py.logbook.screen.jobs import Car, Job, JobStop

LAYOUT = parse_layout(TARN.read_text("utf-8"), TARN.name)
SPURS = [spur.id for spur in LAYOUT.spurs]
KEYS = [key.id for key in LAYOUT.keys]

SLATE = Job(
    "Slate run",
    "Ada and Bo",
    6,
    "marker",
    ("quarry-key",),
    (
        JobStop(
            "quarry",
            (Car("slate wagon", "at the loading bank"), Car("empty tool car")),
            (Car("powder car", "behind the shed, alone"),),
            "Nobody smokes here.\nThe shed is kept shut.",
        ),
        JobStop("dairy", spot=(Car("milk car"),)),
    ),
)
NAILS = Job("Nails", stops=(JobStop("tannery", pull=(Car("hide car"),)),))

SLATE_BODY: dict[str, Any] = {
    "name": "Slate run",
    "crew": "Ada and Bo",
    "cars": 6,
    "rear": "marker",
    "keys": ["quarry-key"],
    "stops": [
        {
            "spur": "quarry",
            "pull": [
                {"car": "slate wagon", "place": "at the loading bank"},
                {"car": "empty tool car"},
            ],
            "spot": [{"car": "powder car", "place": "behind the shed, alone"}],
            "note": "Nobody smokes here.\nThe shed is kept shut.",
        },
        {"spur": "dairy", "spot": [{"car": "milk car"}]},
    ],
}

SPICE = "\"\\'#=[]{}, \n\t\r\u00e9\U0001f682\u2028\u202eab"
"""What TOML minds, what a line can't hold, and ordinary letters."""
_lines = st.text(st.characters() | st.sampled_from(SPICE), max_size=20)
_cars = st.lists(st.builds(Car, _lines, _lines), max_size=3).map(tuple)
_stops = st.lists(
    st.builds(JobStop, st.sampled_from(SPURS), _cars, _cars, _lines), min_size=1, max_size=3
).map(tuple)
jobs_of_any_text = st.builds(
    Job,
    _lines,
    _lines,
    st.integers(0, 500),
    st.sampled_from(["", "marker", "caboose"]),
    st.lists(st.sampled_from(KEYS), unique=True).map(tuple),
    _stops,
).map(tidy)
sound_jobs = jobs_of_any_text.filter(lambda job: not ill_formed(job))

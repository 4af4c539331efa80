"""The crew's own steps in words: what no contact can see, so that the crew itself says it."""

from __future__ import annotations

from typing import NamedTuple

from firmware_py.logbook.screen.ticks import Step


class OwnStep(NamedTuple):
    """What the host calls a step, and why there is one."""

    name: str
    why: str


OWN_STEP = {
    Step.YARD: OwnStep("A word with the yard", "So that nobody else is sent to where you work."),
    Step.REAR: OwnStep("Marker or caboose on the last car", "It shows that the train is whole."),
    Step.HORN: OwnStep("Horn or bell before moving", "Whoever has a hand near the track hears it."),
    Step.STRETCH: OwnStep("Stretch the couplings", "A car that is not coupled stays behind here."),
}

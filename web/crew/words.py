"""Each step in plain words for a crew that has never seen the layout: how, why, and the source.

``how`` may name ``{name}``. The sources are for full-size railroads; here they are the reason
for a scale rule, and never a claim that a layout complies with anything.
"""

from __future__ import annotations

from typing import NamedTuple

from firmware_py.layout.model import Kind
from firmware_py.logbook.screen.ticks import Step
from web.live.sources import Fact, Source


class Words(NamedTuple):
    """How a step is done and why it is next."""

    how: str
    why: str
    source: Source


MARKER = Source(
    "49 CFR 221.13(a)", "A train on the main track shows a marker at the end of its rear car."
)

OPENING = {
    Kind.FLAG: Words(
        "Lift the blue flag off the rail and hang it in its rack.",
        "A blue flag means that people may be at the cars. It comes down once the foreman has "
        "cleared them, and before anything moves.",
        Fact.BLUE_NO_MOVE.value,
    ),
    Kind.SWITCH: Words(
        "Open the padlock, throw the points all the way over to the spur, and look that they fit.",
        "Whatever protected the people on the spur is off in its turn, so the track may be opened "
        "now. Points that do not fit derail the first wheel.",
        Fact.POINTS_FIT.value,
    ),
    Kind.GATE: Words(
        "Open its padlock and swing it clear of the track.",
        "A shut gate is a stop for every train, whoever shut it.",
        Fact.PRACTICE.value,
    ),
    Kind.DERAIL: Words(
        "Open its lock, if it has one, and move it right off the rail.",
        "As long as it lies on the rail it puts your train on the ground.",
        Fact.DERAIL_ON.value,
    ),
    Kind.CHOCK: Words(
        "Take it from under the wheel and hang it in its rack.",
        "It holds the cars that stand here. It comes away last, when your engine is there to "
        "hold them.",
        Fact.HELD_BY_HAND.value,
    ),
}
CLOSING = {
    Kind.FLAG: Words(
        "Take it from its rack and put it up at the track.",
        "People go back to the cars now. Protection that was lifted for a move goes back at once.",
        Fact.BLUE_RETURN.value,
    ),
    Kind.SWITCH: Words(
        "Throw the points all the way back to the main, then put the padlock through the hasp.",
        "The next train on the main expects a switch that is lined and locked for it.",
        Fact.MAIN_NORMAL.value,
    ),
    Kind.GATE: Words(
        "Swing it right across the track and put its padlock on.",
        "Only a gate that is shut and locked keeps anybody out.",
        Fact.PRACTICE.value,
    ),
    Kind.DERAIL: Words(
        "Put it back on the rail and lock it, if it has a lock.",
        "It stops a car that rolls away before it gets to the main.",
        Fact.DERAIL_ON.value,
    ),
    Kind.CHOCK: Words(
        "Set it tight against a wheel of the cars you leave.",
        "On a grade, air alone does not hold cars: they roll out onto the main by themselves.",
        Fact.HELD_BY_HAND.value,
    ),
}
ASK = Words(
    "Press the button below.",
    "Only the foreman knows who is at work on the cars. Nothing is touched before he says so.",
    Fact.OWN_ORDER.value,
)
ASK_AT_STAND = ASK._replace(how="Press the button at the stand, or the one below.")
BEGIN = Words(
    "Press the button below, or just begin.",
    "Then everybody can see that this spur is being worked.",
    Fact.PRACTICE.value,
)
FOREMAN_ANSWERS = Words(
    "Leave everything as it is until he answers.",
    "He has to see that nobody is between the cars before he lets a train in.",
    Fact.OWN_ORDER.value,
)
FOREMAN_HOLDS = FOREMAN_ANSWERS._replace(
    how="Leave everything as it is. You need not ask again.",
    why="He said not yet: his people are still at the cars. The same question still stands.",
)
HAND_BACK = Words(
    "Tell the foreman that the spur is his again: press the button below.",
    "His people may go back to the cars only when they know that you are done.",
    Fact.OWN_ORDER.value,
)
WORK = Words(
    "Go slowly: you must be able to stop short of what you can't see yet.",
    "Everything that protected the spur is off, so it is yours. Take the time it takes.",
    Fact.RESTRICTED_SPEED.value,
)
BRAKE_TEST = Words(
    "Nothing moves until the test is done.",
    "Brakes are read with the train standing; a reading on the move proves nothing.",
    Fact.BRAKE_TEST.value,
)
CLEAR = Words(
    "Bring the last car right off the points. Then press the button at the stand, where there is "
    "one, or the one below.",
    "Nothing can be put back while your train still stands in the way.",
    Fact.LINED_BEHIND.value,
)
OFF_THE_POINTS = Words(
    "Move until the last wheel is off the points, and wait until the detector sees it.",
    "Points that move under a wheel derail it.",
    Fact.NOT_UNDER_TRAIN.value,
)
NOT_FOUL = Words(
    "A car stands too near the points. Push it in past the clearance point.",
    "A train on the main would strike it.",
    Fact.LINED_BEHIND.value,
)
TAKE_KEY = Words(
    "It hangs at the key board. Take it along.",
    "One key proves one open lock: while it is off its hook, everybody knows that somebody has "
    "gone to open something.",
    Fact.TRAPPED_KEY.value,
)
KEY_AWAY = TAKE_KEY._replace(
    how="Wait until it is back on its hook, or fetch it from them when they are done.",
    why="There is one key only, so that two crews are never behind the same lock.",
)
KEY_HOME = TAKE_KEY._replace(
    how="Its hook is at the key board.",
    why="A key that is not home keeps the next crew waiting, and the host looking for it.",
)
OWN = {
    Step.YARD: Words(
        "Tell whoever runs the yard that you are ready, and wait for a nod.",
        "Nobody leaves the yard unannounced: others may be moving where you are going.",
        Fact.PRACTICE.value,
    ),
    Step.REAR: Words(
        "Walk to the last car and look at it.",
        "What stands at the rear tells everyone that the train is whole.",
        MARKER,
    ),
    Step.HORN: Words(
        "Two short ones, or the bell, before a wheel turns.",
        "Anyone near the track is warned before you move, not after.",
        Fact.PRACTICE.value,
    ),
    Step.STRETCH: Words(
        "Pull gently a hand's breadth away, and look that every coupling holds.",
        "A coupling that did not close is found here, and not on the main.",
        Fact.PRACTICE.value,
    ),
}

WHITE = {
    "flashing": "Your next step is at this switch.",
    "steady": "The spur is yours.",
}


def lamp_means(colour: str, shows: str, phase: str) -> str:
    """What the red or green lamp of a stand means for the crew that looks at it."""
    match colour, shows:
        case "green", _:
            return "Locked and lined for the main. Trains may pass; nothing here is open."
        case "red", "flashing":
            return "A rule was broken here. Stop, look, and tell the host."
        case "red", _ if phase in {"opening", "working", "closing"}:
            return "Right so: while you have this switch, red keeps the others away."
        case "red", _:
            return "Not secured. Nobody passes."
        case "none", _:
            return "This stand has no lamp. Go by the steps."
        case _:
            return "Not proven. Treat it as red."

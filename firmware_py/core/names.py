"""The words of the rulebook as enums: stages, rules, faults, commands and what outputs show."""

from __future__ import annotations

from enum import StrEnum


class Word(StrEnum):
    """A word of the rulebook. It hashes as the text it is, which keeps the core's tables quick."""

    __hash__ = str.__hash__


class Points(Word):
    """How the points lie, from their two contacts (rulebook section 4).

    ``UNKNOWN`` is for points of which a contact is lost: no guess is made about them.
    """

    NORMAL = "normal"
    REVERSE = "reverse"
    BETWEEN = "between"
    DISPUTED = "disputed"
    UNKNOWN = "unknown"


class Stage(Word):
    """The five stages of the locking order, and the one that no order leads to."""

    SECURED = "secured"
    UNLOCKED = "unlocked"
    LINED = "lined"
    IN_USE = "in-use"
    RESTORED = "restored"
    IRREGULAR = "irregular"


class Phase(Word):
    """Where a spur's job stands."""

    IDLE = "idle"
    OPENING = "opening"
    WORKING = "working"
    CLOSING = "closing"


class Foreman(Word):
    """What the industry's foreman has been asked and has said."""

    NOT_ASKED = "not-asked"
    ASKED = "asked"
    HELD = "held"
    RELEASED = "released"


class BrakeTest(Word):
    """How a brake test stands."""

    RUNNING = "running"
    DONE = "done"
    BROKEN = "broken"


class Fault(Word):
    """What can be wrong with the wiring."""

    POINTS_DISPUTED = "points-disputed"
    CHATTERING = "chattering"
    LOST = "lost"


class Command(Word):
    """What a crew or the host can ask of the core."""

    ASK = "ask"
    RELEASE = "release"
    HOLD = "hold"
    HAND_BACK = "hand-back"
    WORK_DONE = "work-done"
    START_BRAKE_TEST = "start-brake-test"
    ACKNOWLEDGE = "acknowledge"


class Shows(Word):
    """What an output shows: the first three for lamps, then bolts, then power and buzzers."""

    STEADY = "steady"
    FLASHING = "flashing"
    OFF = "off"
    DRAWN = "drawn"
    SHUT = "shut"
    ON = "on"


class Rule(Word):
    """Every rule, in the order in which one event's violations are raised (sections 5 and 6)."""

    MOVED_WHILE_LOCKED = "moved-while-locked"
    THROWN_UNDER_TRAIN = "thrown-under-train"
    LOCKED_OFF_NORMAL = "locked-off-normal"
    GAPPED_POINTS = "gapped-points"
    ENTERED_GAPPED_POINTS = "entered-gapped-points"
    LEFT_LINED = "left-lined"
    LEFT_UNLOCKED = "left-unlocked"
    KEY_ON_HOOK = "key-on-hook"
    OUT_OF_ORDER = "out-of-order"
    MOVED_UNDER_FLAG = "moved-under-flag"
    GATE_FORCED = "gate-forced"
    GATE_LOCKED_OPEN = "gate-locked-open"
    THROUGH_GATE = "through-gate"
    DERAIL_FORCED = "derail-forced"
    OVER_DERAIL = "over-derail"
    PULLED_AGAINST_CHOCK = "pulled-against-chock"
    LINED_BEHIND_EARLY = "lined-behind-early"
    LEFT_FOUL = "left-foul"
    NOT_RETURNED = "not-returned"
    LEFT_UNCHOCKED = "left-unchocked"
    OVER_SPEED = "over-speed"
    MOVED_IN_BRAKE_TEST = "moved-in-brake-test"

"""The published facts behind the rules: what each one says, in our own words, and its name.

The sections of the Code of Federal Regulations (CFR) are for full-size railroads. Here they
are the reason for a scale rule, never a claim that a layout complies with anything.
"""

from __future__ import annotations

import enum

import msgspec


class Source(msgspec.Struct, frozen=True):
    """Where a rule comes from. ``name`` is the citation, ``says`` a paraphrase of it."""

    name: str
    says: str


class Fact(enum.Enum):
    """The facts that rules cite; each member's value is its ``Source``."""

    POINTS_PROVEN = Source(
        "49 CFR 236.6",
        "Points that stand open by a quarter inch must open the circuit, and a switch with a "
        "lock of its own then cannot be locked.",
    )
    BLUE_NO_MOVE = Source(
        "49 CFR 218.23(a)(2)", "Equipment under a displayed blue signal may not be moved."
    )
    BLUE_NO_ENTRY = Source(
        "49 CFR 218.23(a)(3)", "Nothing may be put on that track that hides the blue signal."
    )
    BLUE_NO_PASS = Source("49 CFR 218.23(a)(4)", "Nothing may pass a displayed blue signal.")
    BLUE_FIRST = Source(
        "49 CFR 218.23(b)",
        "Workers show their blue signal before the work begins, and only they take it down.",
    )
    BLUE_SWITCH = Source(
        "49 CFR 218.27(a)-(b)",
        "Every hand switch that gives access is lined against the track, locked and flagged.",
    )
    BLUE_RETURN = Source(
        "49 CFR 218.29(a)",
        "Protection that was lifted for a move goes back as soon as the switch is cleared.",
    )
    NOT_FOULING = Source(
        "49 CFR 218.101(b)", "Equipment is not left standing foul of a connecting track."
    )
    POINTS_FIT = Source(
        "49 CFR 218.103(b)(5)", "See that the points fit and that the target agrees with them."
    )
    SECURED_FIRST = Source(
        "49 CFR 218.103(b)(6)",
        "After throwing, secure the points against moving before anything runs over them.",
    )
    NOT_UNDER_TRAIN = Source(
        "49 CFR 218.103(b)(7)",
        "Never throw a switch with equipment fouling, standing on or moving over it.",
    )
    LOCKED_WHEN_IDLE = Source(
        "49 CFR 218.103(b)(8)", "A switch not in use is locked, hooked or latched."
    )
    LINED_BEHIND = Source(
        "49 CFR 218.103(d)",
        "After entering a track, do not line behind until past its clearance point.",
    )
    MAIN_NORMAL = Source(
        "49 CFR 218.105(b)",
        "A main-track switch is lined and locked normal whenever it is not in use.",
    )
    DERAIL_ON = Source(
        "49 CFR 218.109(b)",
        "A fixed derail stays derailing when idle, and nothing moves over it while it is.",
    )
    DERAIL_LOCKED = Source(
        "49 CFR 218.109(c)", "A derail is locked with its lever latched, and the lock is tested."
    )
    HELD_BY_HAND = Source(
        "49 CFR 232.103(n)(1)-(2)",
        "Unattended cars are held by hand brakes, enough of them to hold with the air gone.",
    )
    BRAKE_TEST = Source(
        "49 CFR 232.205(c)(1)",
        "In a brake test the reading waits 45 to 60 seconds, with the train standing.",
    )
    TRANSFER_TEST = Source(
        "49 CFR 232.215", "In a transfer test every car's brakes must be seen to apply and hold."
    )
    RESTRICTED_SPEED = Source(
        "49 CFR 236.812",
        "Restricted speed: able to stop within half the range of vision, at most 20 mph.",
    )
    DETECTOR_LOCKING = Source(
        "Detector locking (trade term)", "An occupied section holds its switch. Not in the CFR."
    )
    TRAPPED_KEY = Source(
        "Trapped-key principle (trade explanation)",
        "A key can be in one place only, so where it is proves what is locked.",
    )
    OWN_ORDER = Source("This layout's own order", "The host laid it down in the layout file.")
    OWN_LIMIT = Source("This layout's own limit", "The host laid it down in the layout file.")
    PRACTICE = Source("Common practice", "No published rule was found for this one.")

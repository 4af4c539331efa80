"""Every rule in plain words: what happened, what it means, why the rule exists, and its source.

``happened`` may name ``{at}``, ``{spur}`` and ``{missing}``; they are filled with the names
that stand in the layout file.
"""

from __future__ import annotations

import msgspec

from web.live.sources import Fact, Source


class Reason(msgspec.Struct, frozen=True):
    """One rule's words. ``facts`` are the published sources, the closest first."""

    title: str
    happened: str
    means: str
    why: str
    facts: tuple[Fact, ...]

    @property
    def sources(self) -> tuple[Source, ...]:
        """The sources as records."""
        return tuple(fact.value for fact in self.facts)


OF_SWITCHES = {
    "moved-while-locked": Reason(
        "Points moved while locked",
        "The points of {at} left their place while the padlock was through the hasp.",
        "Either the lock was forced, or it does not hold the points it is meant to hold.",
        "A lock that lets the points move proves nothing to the train that trusts it.",
        (Fact.POINTS_PROVEN, Fact.LOCKED_WHEN_IDLE),
    ),
    "thrown-under-train": Reason(
        "Thrown under a train",
        "The points of {at} moved while something stood on them.",
        "Wheels on either side of the points were sent two ways.",
        "A car on moving points derails. Wait until the last wheel is clear.",
        (Fact.NOT_UNDER_TRAIN, Fact.DETECTOR_LOCKING),
    ),
    "locked-off-normal": Reason(
        "Locked while not normal",
        "{at} was locked with its points not fully over for the main track.",
        "A locked switch tells everyone that the main is clear, and here it is not.",
        "The next train on the main runs at speed into a switch that it believes is normal.",
        (Fact.MAIN_NORMAL, Fact.POINTS_PROVEN),
    ),
    "gapped-points": Reason(
        "Points left gapped",
        "The points of {at} have stood between their two ends for too long.",
        "The throw was not finished, or something keeps the points from fitting.",
        "A flange picks the gap. Look at the points after every throw.",
        (Fact.POINTS_FIT,),
    ),
    "entered-gapped-points": Reason(
        "Entered gapped points",
        "Something ran onto {at} while its points fitted neither way.",
        "Look for a derailed wheel before anything else moves.",
        "Points must fit and be secured before a wheel comes to them, from either side.",
        (Fact.POINTS_FIT, Fact.SECURED_FIRST),
    ),
    "left-lined": Reason(
        "Left lined for the spur",
        "{at} has been left lined for the spur, with nobody at work there.",
        "The crew went away and the main track still leads into the spur.",
        "Nobody on the main expects it. A switch not in use is lined and locked normal.",
        (Fact.MAIN_NORMAL,),
    ),
    "left-unlocked": Reason(
        "Left unlocked",
        "{at} has been left unlocked, with nobody at work there.",
        "The points lie normal, but nothing keeps them so.",
        "An unlocked switch can be thrown by anyone, or shake loose.",
        (Fact.LOCKED_WHEN_IDLE, Fact.MAIN_NORMAL),
    ),
    "key-on-hook": Reason(
        "Opened without its key",
        "{at} was unlocked while its key hung on the hook.",
        "Another key was used, or the hasp was left open before.",
        "One key proves one open lock. A second key makes the key board a liar.",
        (Fact.TRAPPED_KEY,),
    ),
}
OF_SPURS = {
    "out-of-order": Reason(
        "Out of order",
        "{at} was taken out of its turn. Before it should have come: {missing}.",
        "A step of the locking order was left out or taken early.",
        "Each step makes the next one safe; people are protected before the track is opened.",
        (Fact.OWN_ORDER, Fact.BLUE_FIRST, Fact.BLUE_SWITCH, Fact.DERAIL_ON),
    ),
    "moved-under-flag": Reason(
        "Moved under a blue flag",
        "Something moved on {spur} while {at} was displayed.",
        "Somebody may have been working on, under or between the cars.",
        "Behind a blue flag nothing is moved, coupled to, passed or put on the track.",
        (Fact.BLUE_NO_MOVE, Fact.BLUE_NO_ENTRY, Fact.BLUE_NO_PASS),
    ),
    "gate-forced": Reason(
        "Gate forced",
        "{at} came open while its padlock was on.",
        "The gate was pushed through, or its lock does not hold it.",
        "A gate that opens while locked keeps nobody out.",
        (Fact.PRACTICE,),
    ),
    "gate-locked-open": Reason(
        "Gate locked open",
        "{at} was locked while it was not across the track.",
        "It looks locked, but it bars nothing.",
        "The lock should only ever say that the gate is shut.",
        (Fact.PRACTICE,),
    ),
    "through-gate": Reason(
        "Through a shut gate",
        "Something ran into {at} while it was shut.",
        "The crew moved before the gate was opened.",
        "A shut gate is a stop, whoever shut it.",
        (Fact.PRACTICE,),
    ),
    "derail-forced": Reason(
        "Derail forced",
        "{at} came off the rail while it was locked.",
        "The lock was forced, or it does not hold the derail.",
        "A derail protects only while it is locked on the rail.",
        (Fact.DERAIL_LOCKED,),
    ),
    "over-derail": Reason(
        "Over a derail",
        "Something ran onto {at} while it was on the rail.",
        "Look for a derailed wheel before anything else moves.",
        "Nothing moves over a derail in its derailing position.",
        (Fact.DERAIL_ON,),
    ),
    "pulled-against-chock": Reason(
        "Pulled against a chock",
        "The cars on {spur} were pulled away while {at} was still set.",
        "The chock was still under a wheel, or was lost on the way.",
        "What holds the cars is taken away last before the move, and on purpose.",
        (Fact.HELD_BY_HAND,),
    ),
    "lined-behind-early": Reason(
        "Lined behind too early",
        "The points were put back while a car on {at} still stood foul of the main.",
        "The main looked clear, and a train on it would have struck the car.",
        "Line behind only when the last car is past the clearance point.",
        (Fact.LINED_BEHIND,),
    ),
    "left-foul": Reason(
        "Left foul of the main",
        "The switch was locked while a car on {at} stood foul of the main.",
        "A train on the main would strike it.",
        "No car is left between the points and the clearance point.",
        (Fact.NOT_FOULING,),
    ),
    "not-returned": Reason(
        "Not put back",
        "The switch has been secured for a while, but {at} is not back.",
        "The job looks finished and the spur is not protected.",
        "What was taken off for the job goes back as soon as the job is done.",
        (Fact.BLUE_RETURN, Fact.DERAIL_ON),
    ),
    "left-unchocked": Reason(
        "Left without a chock",
        "Cars were left on the grade of {spur} with no chock set.",
        "They may roll out onto the main by themselves.",
        "On a grade, air alone does not hold cars. From one per cent up they are chocked, which "
        "is common practice.",
        (Fact.HELD_BY_HAND, Fact.PRACTICE),
    ),
    "over-speed": Reason(
        "Too fast",
        "A train passed {at} faster than its limit.",
        "It could not have stopped short of what the crew could not yet see.",
        "Spurs are worked at a speed that lets you stop in half of what you can see.",
        (Fact.OWN_LIMIT, Fact.RESTRICTED_SPEED),
    ),
    "moved-in-brake-test": Reason(
        "Moved during the brake test",
        "Something moved on {at} while its brake test was running.",
        "The test is broken and has to be begun anew.",
        "Brakes are read with the train standing; a reading on the move proves nothing.",
        (Fact.BRAKE_TEST, Fact.TRANSFER_TEST),
    ),
}
REASONS: dict[str, Reason] = OF_SWITCHES | OF_SPURS


def reason_for(rule: str) -> Reason:
    """The words of a rule; a rule that the screen does not know is named as it stands."""
    known = REASONS.get(rule)
    if known is not None:
        return known
    return Reason(
        rule.replace("-", " ").capitalize(),
        "At {at}.",
        "This screen is older than the engine and has no words for this rule.",
        "Bring the screen up to the engine's version.",
        (),
    )

"""The seven properties: what each says, why, and the public rules behind it.

Letters with numbers are rows of the published facts that the rulebook cites; ``rules`` names
them in full for whoever reads the table.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Property:
    """One thing that is proven of a layout."""

    number: int
    name: str
    says: str
    sources: tuple[str, ...]
    guards: bool = False
    """Whether ``spurlock run`` asks before it runs a layout that fails it."""


PROPERTIES = (
    Property(
        1,
        "green tells the truth",
        "Green is steady only while the switch is locked and normal, nothing there is at fault "
        "and no violation stands unacknowledged. Red says the rest.",
        ("49 CFR 236.6", "49 CFR 218.103(b)(8)", "49 CFR 236 App. C(b)(3)"),
        guards=True,
    ),
    Property(
        2,
        "no bolt and no power on a guess",
        "A bolt is drawn and power is on only under the rulebook's conditions (section 9), and "
        "never while a contact that has a say is unknown.",
        ("49 CFR 236.5", "49 CFR 236.10", "49 CFR 236.813a"),
        guards=True,
    ),
    Property(
        3,
        "the next step can be trusted",
        "Whoever follows the next step from rest ends at rest with nothing raised; and from any "
        "state without a fault, the step that is asked for raises nothing by itself.",
        ("49 CFR 218.103(b)(1)", "49 CFR 218.29(a)"),
    ),
    Property(
        4,
        "there is always a way back",
        "From every state, however misused, hands and orders can bring everything back to idle.",
        ("49 CFR 218.105(b)", "49 CFR 218.109(b)"),
    ),
    Property(
        5,
        "nothing unsafe is silent",
        "Every rule of the rulebook's sections 5 and 6 is raised when its condition comes about "
        "and at no other time; where it is not raised, a fault stood.",
        ("49 CFR 218.103(b)(7)", "49 CFR 218.23(a)", "49 CFR 236.11"),
        guards=True,
    ),
    Property(
        6,
        "the orders can be worked",
        "No protection lies out of reach when its turn comes, no key is needed to fetch itself, "
        "and no two spurs wait for each other's key.",
        ("49 CFR 236.765", "ISO 14119"),
    ),
    Property(
        7,
        "time is only time",
        "Telling the time in pieces and repeating a reading change nothing.",
        ("49 CFR 236 App. C(b)(2)",),
    ),
)
GUARDING = tuple(it.number for it in PROPERTIES if it.guards)

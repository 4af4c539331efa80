"""What must never be silent, encoded from the rulebook's words for a general solver (z3).

Sections 5 to 7, for a padlocked switch with its detector, a spur with its own, and a flag. No code
of the core or of the prover is used here. Contacts are 0 (open), 1 (made) and 2 (unknown).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import z3

CONTACTS = ("hasp", "normal", "reverse", "detector", "flag", "spur")
THROW, OTHER = 6, 7
"""Events that are no contact's: the throw time has passed; and all else that can happen."""

STAGES = ("secured", "unlocked", "lined", "in-use", "restored", "irregular")
RULES = (
    "moved-while-locked",
    "thrown-under-train",
    "locked-off-normal",
    "gapped-points",
    "entered-gapped-points",
    "moved-under-flag",
)

Values = dict[str, z3.BitVecRef]


@dataclass(frozen=True, slots=True)
class Situation:
    """How all stands, and what happens: ``event`` is a contact's place, or one of the above.

    ``value`` is what the contact comes to; ``runs`` says that the throw time of points that lie
    between is running.
    """

    before: Values
    chatters: dict[str, z3.BoolRef]
    stage: z3.BitVecRef
    runs: z3.BoolRef
    event: z3.BitVecRef
    value: z3.BitVecRef

    @property
    def after(self) -> Values:
        """The contacts once it has happened."""
        return {
            name: z3.If(self.event == place, self.value, self.before[name])
            for place, name in enumerate(CONTACTS)
        }


def situation() -> Situation:
    """Any situation."""
    return Situation(
        {name: z3.BitVec(name, 2) for name in CONTACTS},
        {name: z3.Bool(f"{name} chatters") for name in CONTACTS},
        z3.BitVec("stage", 3),
        z3.Bool("runs"),
        z3.BitVec("event", 3),
        z3.BitVec("value", 2),
    )


# Section 1 and 4: how the points lie.


def is_normal(v: Values) -> z3.BoolRef:
    """Fully over for the main, and known to be."""
    return z3.And(v["normal"] == 1, v["reverse"] == 0)


def is_reverse(v: Values) -> z3.BoolRef:
    """Fully over for the spur, and known to be."""
    return z3.And(v["normal"] == 0, v["reverse"] == 1)


def is_between(v: Values) -> z3.BoolRef:
    """Known to be neither."""
    return z3.And(v["normal"] == 0, v["reverse"] == 0)


def may_be(s: Situation) -> z3.BoolRef:
    """Whether there is such a situation: the table of section 4, and an event that is one."""
    v, stage = s.before, s.stage
    free = z3.And(z3.UGE(stage, 1), z3.ULE(stage, 4))
    # Reverse and occupied is in use from the instant that it is both.
    lined = z3.Or(stage == 3, z3.And(stage == 2, v["detector"] != 1))
    unlocked = z3.If(is_normal(v), z3.Or(stage == 1, stage == 4), z3.If(is_reverse(v), lined, free))
    changes = [
        z3.And(s.event == place, s.value != v[name], z3.ULE(s.value, 2))
        for place, name in enumerate(CONTACTS)
    ]
    return z3.And(
        *[z3.ULE(it, 2) for it in v.values()],
        z3.If(v["hasp"] == 1, stage == z3.If(is_normal(v), z3.BitVecVal(0, 3), 5), unlocked),
        z3.Implies(s.runs, is_between(v)),
        z3.Or(*changes, z3.And(s.event == THROW, s.value == 0, s.runs)),
    )


# Sections 5 to 7: what is raised.


def settles(s: Situation, name: str, value: int) -> z3.BoolRef:
    """A contact settles, and may raise something: it was known and does not chatter."""
    return z3.And(
        s.event == CONTACTS.index(name),
        s.value == value,
        s.before[name] == 1 - value,
        z3.Not(s.chatters[name]),
    )


def must_raise(s: Situation) -> dict[str, z3.BoolRef]:
    """When each rule is to be raised; at no other time may it be."""
    v = s.before
    moved = z3.Or(settles(s, "normal", 0), settles(s, "reverse", 0))
    on_spur = z3.Or(settles(s, "spur", 0), settles(s, "spur", 1))
    into = z3.And(settles(s, "detector", 1), is_reverse(v))
    return {
        "moved-while-locked": z3.And(moved, v["hasp"] == 1),
        "thrown-under-train": z3.And(moved, v["detector"] == 1),
        "locked-off-normal": z3.And(settles(s, "hasp", 1), z3.Not(is_normal(v))),
        "gapped-points": s.event == THROW,
        "entered-gapped-points": z3.And(settles(s, "detector", 1), is_between(v)),
        "moved-under-flag": z3.And(v["flag"] == 0, z3.Or(on_spur, into)),
    }


def must_run(s: Situation) -> z3.BoolRef:
    """Whether the throw time is to run afterwards: once for each spell of lying between."""
    goes_on = z3.And(s.runs, s.event != THROW)
    return z3.And(is_between(s.after), z3.Or(z3.Not(is_between(s.before)), goes_on))


# Property 5: what comes about, whatever the tables say of it.


@dataclass(frozen=True, slots=True)
class Danger:
    """Something that may have come about, for all that is known, and the contacts it lies in."""

    name: str
    comes: z3.BoolRef
    contacts: tuple[str, ...]


POINTS = ("normal", "reverse")


def dangers(s: Situation) -> Iterator[Danger]:
    """The four that are never silent."""
    v, w = s.before, s.after

    def off_under_lock(u: Values) -> z3.BoolRef:
        return z3.And(u["hasp"] != 0, z3.Not(is_normal(u)))

    def over_gap(u: Values) -> z3.BoolRef:
        lies = z3.Or(is_normal(u), is_reverse(u))
        return z3.And(u["detector"] != 0, z3.Not(lies))

    left = z3.Or(
        z3.And(is_normal(v), z3.Not(is_normal(w))), z3.And(is_reverse(v), z3.Not(is_reverse(w)))
    )
    occupied = z3.And(s.event == CONTACTS.index("detector"), s.value != 0)
    into = z3.And(occupied, z3.Not(is_normal(v)))
    yield Danger(
        "points off normal under a lock",
        z3.And(off_under_lock(w), z3.Not(off_under_lock(v))),
        ("hasp", *POINTS),
    )
    yield Danger(
        "a move over gapped points",
        z3.And(over_gap(w), z3.Not(over_gap(v))),
        ("detector", *POINTS),
    )
    yield Danger("points left gapped", s.event == THROW, POINTS)
    yield Danger("a throw under a train", z3.And(v["detector"] != 0, left), ("detector", *POINTS))
    yield Danger(
        "a move on the spur under a flag",
        z3.And(v["flag"] != 1, s.event == CONTACTS.index("spur")),
        ("flag", "spur"),
    )
    yield Danger(
        "a move into the spur under a flag",
        z3.And(v["flag"] != 1, into),
        ("flag", "detector", *POINTS),
    )


def at_fault(s: Situation, names: tuple[str, ...]) -> z3.BoolRef:
    """Whether a fault stands with one of these contacts, or stood when it happened."""

    def disputed(u: Values) -> z3.BoolRef:
        return z3.And(u["normal"] == 1, u["reverse"] == 1)

    points = [disputed(s.before), disputed(s.after)] if set(POINTS) <= set(names) else []
    return z3.Or(
        *[z3.Or(u[name] == 2, s.chatters[name]) for u in (s.before, s.after) for name in names],
        *points,
    )


def silent(raised: dict[str, z3.BoolRef], s: Situation) -> Iterator[str]:
    """The dangers that can come about with nothing raised and no fault: the property is false."""
    for danger in dangers(s):
        solver = z3.Solver()
        solver.add(may_be(s), danger.comes, z3.Not(at_fault(s, danger.contacts)))
        solver.add(z3.Not(z3.Or(*raised.values())))
        if solver.check() != z3.unsat:
            yield danger.name

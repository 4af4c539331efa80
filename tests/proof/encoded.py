"""One spur encoded a second time, from the rulebook's words and for a general solver (z3).

A padlocked switch with its detector, a foreman and a flag before the switch. No code of the core
or of the prover is used here; contacts are 0 (open), 1 (made) and 2 (unknown).
"""

from __future__ import annotations

from itertools import pairwise

import z3

SECURED, UNLOCKED, LINED, IN_USE, RESTORED, IRREGULAR = range(6)
STAGES = ("secured", "unlocked", "lined", "in-use", "restored", "irregular")
NAMES = ("hasp", "normal", "reverse", "detector", "flag", "chatter", "flag_chatter", "says",
         "open", "stage", "spell", "runs", "kept")  # fmt: skip
RELEASED = 3

State = dict[str, z3.ArithRef]


def state(tag: str) -> State:
    """A state's variables, all of them small numbers."""
    return {name: z3.Int(f"{name}{tag}") for name in NAMES}


def points(s: State) -> z3.ArithRef:
    """0 normal, 1 reverse, 2 between, 3 disputed, 4 unknown (sections 1, 4 and 7)."""
    n, r = s["normal"], s["reverse"]
    known = z3.If(z3.And(n == 1, r == 0), 0, z3.If(z3.And(n == 0, r == 1), 1, z3.If(n == 0, 2, 3)))
    return z3.If(z3.Or(n == 2, r == 2), 4, known)


def stage_of(s: State, spell: z3.ArithRef, kept: z3.ArithRef) -> z3.ArithRef:
    """The table of section 4."""
    lies = points(s)
    locked = z3.If(lies == 0, SECURED, IRREGULAR)
    free = z3.If(
        lies == 0,
        z3.If(spell == 0, UNLOCKED, RESTORED),
        z3.If(lies == 1, z3.If(spell == 2, IN_USE, LINED), z3.If(kept < 0, UNLOCKED, kept)),
    )
    return z3.If(s["hasp"] == 1, locked, free)


def begins(s: State) -> z3.BoolRef:
    """A session may begin with contacts as they will."""
    lined = z3.If(s["detector"] == 1, 2, 1)
    spell = z3.If(points(s) == 1, lined, 0)
    free = s["hasp"] != 1
    runs = z3.Or(s["stage"] == LINED, s["stage"] == IN_USE)
    return z3.And(
        *[z3.And(s[n] >= 0, s[n] <= 2) for n in NAMES[:5]],
        *[s[n] == 0 for n in ("chatter", "flag_chatter", "says", "open")],
        s["spell"] == spell,
        s["stage"] == stage_of(s, spell, z3.IntVal(-1)),
        s["runs"] == z3.If(runs, 1, 0),
        s["kept"] == z3.If(free, s["stage"], -1),
    )


def _spell(s: State, t: State, event: z3.ArithRef) -> tuple[z3.ArithRef, z3.ArithRef]:
    """The spell and whether it runs after an event, before the switch may be secured by it."""
    lined = z3.If(t["detector"] == 1, 2, 1)
    opened = z3.And(event == 0, t["hasp"] == 0)
    hasp_lost = z3.And(event == 0, t["hasp"] == 2, points(t) != 1, s["runs"] == 0)
    reversed_now = z3.And(z3.Or(event == 1, event == 2), points(t) == 1, points(s) != 1)
    used = z3.And(event == 3, t["detector"] == 1, points(t) == 1)
    spell = z3.If(
        opened,
        z3.If(points(t) == 1, lined, 0),
        z3.If(hasp_lost, 0, z3.If(reversed_now, lined, z3.If(used, 2, s["spell"]))),
    )
    starts = z3.And(z3.Or(opened, reversed_now), points(t) == 1, t["hasp"] != 1)
    return spell, z3.If(opened, z3.If(starts, 1, 0), z3.If(starts, 1, s["runs"]))


def goes(s: State, t: State, event: z3.ArithRef) -> z3.BoolRef:
    """One event: a contact (0 to 4), a chatter (5, 6), the foreman (7), a violation (8)."""
    stays = [z3.Implies(event != at, t[name] == s[name]) for at, name in enumerate(NAMES[:9])]
    spell, runs = _spell(s, t, event)
    opened = z3.And(event == 0, t["hasp"] == 0)
    stage = stage_of(t, spell, z3.If(opened, -1, s["kept"]))
    own = event <= 3
    secured_now = z3.And(own, stage == SECURED, s["stage"] != SECURED)
    runs = z3.If(z3.And(own, z3.Or(stage == LINED, stage == IN_USE), stage != s["stage"]), 1, runs)
    says = z3.Or(
        t["says"] == 0,
        z3.And(s["says"] == 0, t["says"] == 1),
        z3.And(s["says"] == 1, t["says"] == 2),
        z3.And(s["says"] >= 1, s["says"] <= 2, t["says"] == RELEASED),
    )
    return z3.And(
        event >= 0,
        event <= 8,
        *stays,
        *[z3.And(t[n] >= 0, t[n] <= 2) for n in NAMES[:5]],
        *[z3.Implies(event == at, t[n] != s[n]) for at, n in enumerate(NAMES[:5])],
        *[z3.And(t[n] >= 0, t[n] <= 1) for n in ("chatter", "flag_chatter", "open")],
        z3.Implies(event == 7, says),
        t["spell"] == z3.If(own, z3.If(secured_now, 0, spell), s["spell"]),
        t["runs"] == z3.If(own, z3.If(secured_now, 0, runs), s["runs"]),
        t["stage"] == z3.If(own, stage, s["stage"]),
        t["kept"]
        == z3.If(own, z3.If(t["hasp"] == 1, z3.If(secured_now, -1, s["kept"]), stage), s["kept"]),
    )


def shown(s: State) -> tuple[z3.BoolRef, z3.BoolRef, z3.BoolRef]:
    """Green, bolt and power, from the table of section 9."""
    unknown = z3.Or(*[s[n] == 2 for n in NAMES[:4]])
    fault = z3.Or(unknown, s["chatter"] == 1, points(s) == 3)
    green = z3.And(s["stage"] == SECURED, z3.Not(fault), s["open"] == 0)
    ready = z3.And(s["says"] == RELEASED, s["flag"] == 1)
    sound = z3.And(z3.Not(fault), s["flag"] != 2, s["flag_chatter"] == 0)
    bolt = z3.And(z3.Or(s["stage"] != SECURED, ready), sound)
    known = z3.And(*[s[n] != 2 for n in NAMES[:3]])
    lined = z3.Or(s["stage"] == LINED, s["stage"] == IN_USE)
    power = z3.And(lined, known, ready, points(s) == 1, s["hasp"] != 1)
    return green, bolt, power


Seen = tuple[str, bool, bool, bool]


def reached(depth: int) -> set[Seen]:
    """Every stage with what green, bolt and power show, within so many events."""
    states = [state(f"_{at}") for at in range(depth + 1)]
    solver = z3.Solver()
    solver.add(begins(states[0]))
    for at, (s, t) in enumerate(pairwise(states)):
        event = z3.Int(f"event_{at}")
        # An event that changes nothing stands for a shorter way.
        still = z3.And(event == -1, *[t[name] == s[name] for name in NAMES])
        solver.add(z3.Or(still, goes(s, t, event)))
    last = states[-1]
    green, bolt, power = shown(last)
    found: set[Seen] = set()
    while solver.check() == z3.sat:
        model = solver.model()
        stage = model.eval(last["stage"], model_completion=True).as_long()
        lamps = [z3.is_true(model.eval(it, model_completion=True)) for it in (green, bolt, power)]
        found.add((STAGES[stage], lamps[0], lamps[1], lamps[2]))
        solver.add(
            z3.Or(last["stage"] != stage, green != lamps[0], bolt != lamps[1], power != lamps[2])
        )
    return found


def never_elsewhere(allowed: set[Seen]) -> bool:
    """Whether no event leads from anywhere reached to what is not ``allowed``: by induction."""
    s, t, event = state("_s"), state("_t"), z3.Int("event")

    def holds(u: State) -> z3.BoolRef:
        green, bolt, power = shown(u)
        fits = [
            z3.And(u["stage"] == STAGES.index(name), green == g, bolt == b, power == p)
            for name, g, b, p in allowed
        ]
        return z3.And(z3.Or(*fits), _well_formed(u))

    solver = z3.Solver()
    solver.add(z3.Or(z3.And(begins(t)), z3.And(holds(s), goes(s, t, event))))
    solver.add(z3.Not(holds(t)))
    return bool(solver.check() == z3.unsat)


def _well_formed(u: State) -> z3.BoolRef:
    """What else is kept by every event, without which the induction would start from nonsense."""
    lies, locked = points(u), u["hasp"] == 1
    ranges = [z3.And(u[n] >= 0, u[n] <= 2) for n in (*NAMES[:5], "spell")]
    ranges += [z3.And(u[n] >= 0, u[n] <= 1) for n in ("chatter", "flag_chatter", "open", "runs")]
    return z3.And(
        *ranges,
        u["says"] >= 0,
        u["says"] <= RELEASED,
        z3.Implies(locked, u["stage"] == z3.If(lies == 0, SECURED, IRREGULAR)),
        z3.Implies(z3.Not(locked), z3.And(u["stage"] != SECURED, u["stage"] != IRREGULAR)),
        z3.Implies(z3.Not(locked), u["kept"] == u["stage"]),
        z3.Or(u["kept"] == -1, z3.And(u["kept"] >= UNLOCKED, u["kept"] <= RESTORED)),
        z3.Implies(lies == 1, u["spell"] >= 1),
    )

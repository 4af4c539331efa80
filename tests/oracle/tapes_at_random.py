"""Random tapes (section 10): honest jobs, careless crews, bad wiring and ties on every deadline.

`python -m tests.oracle.tapes_at_random SEED` prints a layout file and a tape for it; with a folder
as second argument it writes `layout.toml` and `tape.jsonl` there instead.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from random import Random
from typing import Any

from .layouts_at_random import layout_as_toml, layout_at_random
from .oracle import Replay
from .plan import MADE_AT_REST, SECOND, Plan, read_plan
from .state import Event

__all__ = ["layout_as_toml", "layout_at_random", "scene_at_random", "tape_at_random"]

Line = dict[str, Any]

COMMANDS = ("ask", "hold", "release", "hand-back", "work-done", "start-brake-test")


class Tape:
    """Collects timed lines; times are microseconds until the very end."""

    def __init__(self, rng: Random, plan: Plan) -> None:
        self.rng = rng
        self.plan = plan
        # A patient crew lets everything settle before the next act, and works on good contacts.
        self.patient = False
        self.found: list[tuple[int, Line]] = []

    def chance(self, share: float) -> bool:
        """Say yes in that share of cases."""
        return self.rng.random() < share

    def pause(self) -> int:
        """Draw a time to the next act, often exactly one of the times of the layout."""
        times = self.plan.times
        if self.patient:
            return times["clear_after"] + 2 * SECOND + self.rng.randint(1, 40) * SECOND // 10
        way = self.rng.random()
        if way < 0.45:
            return self.rng.randint(1, 40) * SECOND // 10
        if way < 0.55:
            return self.rng.randrange(0, 50_000)
        if way < 0.62:
            return 0
        if way < 0.90:
            return self.rng.choice(
                (
                    times["settle"],
                    times["clear_after"],
                    times["throw"],
                    times["throw"] + times["settle"],
                    times["repeat_within"],
                    5 * SECOND,
                    2 * SECOND,
                )
            )
        if way < 0.98:
            return self.rng.choice((times["relock_within"], times["return_within"], 60 * SECOND))
        return times["restore_within"] + self.rng.choice((0, times["clear_after"], SECOND))

    # What can be put on a tape.

    def edge(self, t: int, thing: str, role: str, made: bool) -> int:
        """Move a contact, perhaps with bounce; return when it lies still."""
        name = f"{thing}.{role}"
        if name not in self.plan.contacts:
            return t
        if not self.patient and self.chance(0.15):
            for value in [made, not made] * self.rng.randint(1, 4):
                self.found.append((t, {"contact": name, "made": value}))
                t += self.rng.choice((0, 1, 300, 4_000, self.plan.times["settle"]))
        self.found.append((t, {"contact": name, "made": made}))
        return t

    def command(self, t: int, name: str, spur: str) -> None:
        """Put down a command for a spur."""
        line: Line = {"command": name, "spur": spur}
        if name == "start-brake-test":
            line["cars"] = self.rng.randint(1, 12)
        self.found.append((t, line))

    def acknowledge(self, t: int) -> None:
        """Put down an acknowledgement, sometimes of a violation that never was."""
        number = self.rng.choice((1, 1, 2, 3, 4, 5, 6, 8, 10, 15, 999))
        self.found.append((t, {"command": "acknowledge", "violation": number}))

    def chatter(self, t: int) -> None:
        """More than twenty edges within a second, at even or uneven distances."""
        name = self.rng.choice(sorted(self.plan.contacts))
        made = self.chance(0.5)
        even = self.rng.choice((10_000, 30_000, 48_000, 50_000))
        for _ in range(self.rng.randint(19, 60)):
            self.found.append((t, {"contact": name, "made": made}))
            made = not made
            t += even if self.chance(0.9) else self.rng.choice((0, 1, 20_000, 60_000))

    def lost(self, t: int) -> None:
        """Let a contact, a thing or everything not answer for a while."""
        contacts = sorted(self.plan.contacts)
        name = self.rng.choice(contacts)
        way = self.rng.random()
        if way < 0.5:
            names = [name]
        elif way < 0.9:
            names = [n for n in contacts if n.split(".")[0] == name.split(".")[0]]
        else:
            names = contacts
        until = t + self.pause() + self.pause()
        for each in names:
            self.found.append((t, {"contact": each, "made": None}))
            if self.chance(0.9):
                rest = self.plan.contacts[each].role in MADE_AT_REST
                made = rest if self.chance(0.6) else not rest
                self.found.append((until, {"contact": each, "made": made}))

    def senseless(self, t: int) -> None:
        """Anything at all: a contact somewhere, a command for some spur, an acknowledgement."""
        way = self.rng.random()
        spurs = self.plan.ids("spur")
        if way < 0.6 or not spurs:
            name = self.rng.choice(sorted(self.plan.contacts))
            thing, role = name.split(".")
            self.edge(t, thing, role, self.chance(0.5))
        elif way < 0.85:
            self.command(t, self.rng.choice(COMMANDS), self.rng.choice(spurs))
        else:
            self.acknowledge(t)


class Crew:
    """Does jobs at one spur, with some share of carelessness."""

    def __init__(self, tape: Tape, spur: str, careless: float, t: int) -> None:
        self.tape = tape
        self.plan = tape.plan
        self.spur = spur
        self.switch = tape.plan.switch_of(spur)
        self.careless = careless
        self.t = t

    def forgets(self) -> bool:
        """Whether the crew leaves something out now."""
        return self.tape.chance(self.careless)

    def wait(self) -> None:
        """Time passes."""
        self.t += self.tape.pause()

    def edge(self, thing: str, role: str, made: bool) -> None:
        """Move a contact now, and then let time pass."""
        self.t = self.tape.edge(self.t, thing, role, made)
        self.wait()

    def say(self, name: str) -> None:
        """Give a command now, and then let time pass."""
        self.tape.command(self.t, name, self.spur)
        self.wait()

    def job(self) -> None:
        """Open, work, close."""
        for protection in self.order(self.plan.opening[self.spur]):
            self.open(protection)
        for _ in range(self.tape.rng.randint(0, 2)):
            if self.tape.chance(0.4):
                self.say("start-brake-test")
            self.train()
        if self.tape.chance(0.5):
            self.say("work-done")
        elif self.tape.chance(0.5):
            self.push_button()
        for protection in self.order(self.plan.closing[self.spur]):
            self.close(protection)

    def order(self, protections: list[str]) -> list[str]:
        """Keep the right order, or swap things and leave some out."""
        order = list(protections)
        if self.forgets():
            first, second = (self.tape.rng.randrange(len(order)) for _ in range(2))
            order[first], order[second] = order[second], order[first]
        return [protection for protection in order if not self.forgets()]

    def push_button(self) -> None:
        """Press the button and let it go."""
        self.edge(self.switch, "button", True)
        self.edge(self.switch, "button", False)

    def open(self, protection: str) -> None:
        """Take one protection off."""
        kind = self.plan.kind_of.get(protection, "foreman")
        if kind == "foreman":
            if self.tape.chance(0.3):
                self.push_button()
            else:
                self.say("ask")
            if self.tape.chance(0.2):
                self.say("hold")
            self.say("release")
        elif kind == "switch":
            self.take_key(protection)
            if not self.forgets():
                self.edge(protection, "hasp", False)
            self.edge(protection, "normal", False)
            self.edge(protection, "reverse", True)
        elif kind == "gate":
            self.take_key(protection)
            if not self.forgets():
                self.edge(protection, "hasp", False)
            self.edge(protection, "shut", False)
        elif kind == "derail":
            if not self.forgets():
                self.edge(protection, "hasp", False)
            self.edge(protection, "on", False)
        else:
            self.edge(protection, "rack", True)

    def close(self, protection: str) -> None:
        """Put one protection back."""
        kind = self.plan.kind_of.get(protection, "foreman")
        if kind == "foreman":
            self.say("hand-back")
        elif kind == "switch":
            self.edge(protection, "reverse", False)
            if not self.forgets():
                self.edge(protection, "normal", True)
            if not self.forgets():
                self.edge(protection, "hasp", True)
            if "key" in self.plan.by_id[protection]:
                self.edge(self.plan.by_id[protection]["key"], "hook", True)
        elif kind == "gate":
            first, second = ("hasp", "shut") if self.forgets() else ("shut", "hasp")
            self.edge(protection, first, True)
            self.edge(protection, second, True)
        elif kind == "derail":
            self.edge(protection, "on", True)
            self.edge(protection, "hasp", True)
        else:
            self.edge(protection, "rack", False)

    def take_key(self, thing: str) -> None:
        """Take the key from its hook, unless the crew forces or forgets it."""
        key = self.plan.by_id[thing].get("key")
        if key is not None and not self.forgets():
            self.edge(key, "hook", False)

    def train(self) -> None:
        """Run a train over the switch into or out of the spur; it may stop on the way."""
        way_in = self.tape.chance(0.5)
        gates = self.plan.of_spur("gate", self.spur) + self.plan.of_spur("derail", self.spur)
        self.edge(self.switch, "detector", True)
        if self.tape.chance(0.7):
            self.edge(self.spur, "fouling", True)
        for gate in gates:
            if self.tape.chance(0.5):
                self.edge(gate, "detector", True)
                self.edge(gate, "detector", False)
        self.edge(self.spur, "detector", way_in)
        if not self.forgets():
            self.edge(self.spur, "fouling", False)
        if not self.forgets():
            self.edge(self.switch, "detector", False)


class Listener(Replay):
    """A replay that notes the exact instant of everything that happens."""

    def __init__(self, plan: Plan) -> None:
        super().__init__(plan)
        self.instants: list[int] = []

    def finish(self, event: Event) -> None:
        """Note when, then go on as ever."""
        super().finish(event)
        self.instants.append(event.t)
        # Deadlines that a later line will take away again are instants worth a tie, too.
        self.instants += [when for when, _kind, _thing in self.deadlines()]


def _finished(timed: list[tuple[int, Line]]) -> list[Line]:
    """Never-falling lines with times in seconds; at one instant as they came."""
    ordered = sorted(timed, key=lambda item: item[0])
    return [{"t": round(t / SECOND, 6), **line} for t, line in ordered]


def _start(tape: Tape) -> None:
    """Lines at t = 0: how things stand, rarely with something lost, and commands after them."""
    share = tape.rng.choice((0.0, 0.1, 0.3))
    for name in sorted(tape.plan.contacts):
        if tape.chance(share):
            made = None if tape.chance(0.05) else tape.chance(0.5)
            tape.found.append((0, {"contact": name, "made": made}))
    for spur in tape.plan.ids("spur"):
        if tape.chance(0.1):
            tape.command(0, tape.rng.choice(COMMANDS), spur)


def tape_at_random(rng: Random, layout: dict[str, Any]) -> list[Line]:
    """Make a random tape for a layout."""
    plan = read_plan(layout)
    tape = Tape(rng, plan)
    _start(tape)
    careless = rng.choice((0.0, 0.0, 0.05, 0.15, 0.3))
    noise = rng.choice((0, 0, 3, 15))
    tape.patient = rng.random() < 0.25
    for spur in plan.ids("spur"):
        crew = Crew(tape, spur, careless, 1 + tape.pause())
        for _ in range(rng.choice((1, 1, 2, 3))):
            crew.job()
            crew.wait()
    length = max((t for t, _line in tape.found), default=0) + 10 * SECOND
    for _ in range(noise + (8 if not plan.ids("spur") else 0)):
        tape.senseless(rng.randrange(1, length))
    for _ in range(rng.choice((0, 2, 6))):
        tape.acknowledge(rng.randrange(1, length))
    if rng.random() < 0.3:
        # Somebody goes through the whole list.
        at = rng.randrange(1, length)
        for number in range(1, 30):
            tape.found.append((at, {"command": "acknowledge", "violation": number}))
    for _ in range(rng.choice((0, 0, 1, 2))):
        tape.chatter(rng.randrange(1, length))
    for _ in range(rng.choice((0, 0, 0, 1, 3))):
        tape.lost(rng.randrange(1, length))
    # Ties: new lines exactly when something happens, or a microsecond beside it.
    for _ in range(rng.choice((0, 1, 2))):
        listener = Listener(plan)
        listener.play([*_finished(tape.found), {"t": length / SECOND + 1300, "end": True}])
        instants = sorted({t for t in listener.instants if t > 1})
        for t in rng.sample(instants, min(len(instants), 8)):
            tape.senseless(t + rng.choice((0, 0, 0, -1, 1)))
    lines = _finished(tape.found)
    last = lines[-1]["t"] if lines else 0.0
    if rng.random() < 0.85:
        lines.append({"t": round(last + rng.choice((0, 1, 30, 130, 700, 1300)), 6), "end": True})
    return lines


def scene_at_random(seed: int) -> tuple[dict[str, Any], list[Line]]:
    """Make a layout and a tape for it, always the same ones for a seed."""
    rng = Random(seed)
    layout = layout_at_random(rng)
    return layout, tape_at_random(rng, layout)


def main(arguments: list[str]) -> int:
    """Print or write one scene."""
    if len(arguments) not in (1, 2) or not arguments[0].isdecimal():
        print("usage: python -m tests.oracle.tapes_at_random SEED [FOLDER]", file=sys.stderr)
        return 2
    layout, lines = scene_at_random(int(arguments[0]))
    text = "".join(json.dumps(line) + "\n" for line in lines)
    if len(arguments) == 2:
        folder = Path(arguments[1])
        folder.mkdir(parents=True, exist_ok=True)
        (folder / "layout.toml").write_text(layout_as_toml(layout))
        (folder / "tape.jsonl").write_text(text)
    else:
        print(layout_as_toml(layout))
        print(text, end="")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

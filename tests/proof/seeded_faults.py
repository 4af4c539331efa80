# ruff: noqa: E501 - what stands in the core stands here in one piece
"""Faults to be seeded into the core, one at a time: a flipped condition in each rule and output.

Each names the file, what stands there, what is put in its place, the layout on which it shows,
and the property that must find it.
"""

from typing import NamedTuple


class Fault(NamedTuple):
    """One fault."""

    name: str
    file: str
    right: str
    wrong: str
    layout: str
    number: int


FAULTS = (
    # Section 5.
    Fault("moved-while-locked", "switch", "if made(self.hasp):\n                self._breach(Rule.MOVED", "if not made(self.hasp):\n                self._breach(Rule.MOVED", "plain", 5),
    Fault("thrown-under-train", "switch", "if made(self.detector):\n                self._breach(Rule.THROWN", "if not made(self.detector):\n                self._breach(Rule.THROWN", "plain", 5),
    Fault("moved-on-arrival", "switch", "if not arrived:", "if arrived:", "plain", 5),
    Fault("locked-off-normal", "switch", "if self.points is not Points.NORMAL:\n                self._breach", "if self.points is Points.NORMAL:\n                self._breach", "plain", 5),
    Fault("locked-reverse-only", "switch", "if self.points is not Points.NORMAL:\n                self._breach", "if self.points is Points.REVERSE:\n                self._breach", "plain", 5),
    Fault("gapped-points", "switch", "self._breach(Rule.GAPPED_POINTS)", "pass", "plain", 5),
    Fault("entered-gapped", "switch", "if self.points is Points.BETWEEN:\n                self._breach", "if self.points is Points.DISPUTED:\n                self._breach", "plain", 5),
    Fault("left-lined", "switch", "self._breach(Rule.LEFT_LINED)", "pass", "plain", 5),
    Fault("left-unlocked", "switch", "self._breach(Rule.LEFT_UNLOCKED)", "self._breach(Rule.LEFT_LINED)", "plain", 5),
    Fault("key-on-hook", "switch", "if made(self.hook):", "if not made(self.hook):", "plain", 5),
    Fault("spell-not-run", "switch", "if not made(self.hasp):\n            self._run_spell()", "if made(self.hasp):\n            self._run_spell()", "plain", 5),
    Fault("spell-kept", "switch", "self.turn |= SHUT\n        self.spell_runs = False", "self.turn |= SHUT\n        self.spell_runs = True", "plain", 5),
    Fault("shut-untold", "switch", "if self.spell_runs:\n            self.turn |= SHUT", "if not self.spell_runs:\n            self.turn |= SHUT", "plain", 5),
    Fault("came-off-untold", "switch", "self.turn |= CAME_OFF\n            self._open_spell()", "self._open_spell()", "plain", 5),
    Fault("righted-untold", "switch", "self.turn |= RIGHTED", "self.turn |= REVERSED", "plain", 5),
    Fault("secured-when-reverse", "stages", "_R: Stage.IRREGULAR,", "_R: Stage.SECURED,", "plain", 5),
    Fault("secured-when-unknown", "stages", "_U: Stage.IRREGULAR,", "_U: Stage.SECURED,", "plain", 5),
    Fault("secured-on-a-guess", "stages", "NONE_TO_KEEP_WITHOUT_LOCK = Stage.LINED", "NONE_TO_KEEP_WITHOUT_LOCK = Stage.SECURED", "lockless", 1),
    Fault("between-is-normal", "stages", "(False, False): Points.BETWEEN", "(False, False): Points.NORMAL", "plain", 1),
    # Section 6.
    Fault("out-of-order-off", "spur", "before if not item.is_off()])", "before if item.is_off()])", "flags", 5),
    Fault("out-of-order-back", "spur", "before if not item.is_back()])", "before if item.is_back()])", "flags", 5),
    Fault("order-one-short", "spur", "opening[:place] for", "opening[: place - 1] for", "flags", 5),
    Fault("moved-under-flag", "spur", "if flag.is_out():", "if flag.is_off():", "flag", 5),
    Fault("flag-on-reverse", "spur", "turn & OCCUPIED and self.switch.points is Points.REVERSE", "turn & OCCUPIED and self.switch.points is Points.NORMAL", "flag", 5),
    Fault("gate-forced", "protections", "if not in_place and made(self._hasp):", "if in_place and made(self._hasp):", "gate", 5),
    Fault("derail-forced", "protections", "if not in_place and made(self._hasp):", "if not in_place and not made(self._hasp):", "derail", 5),
    Fault("gate-locked-open", "protections", "elif self._in_place.settled is False:\n            self._breach", "elif self._in_place.settled is None:\n            self._breach", "gate", 5),
    Fault("through-gate", "protections", "if occupied and made(self._in_place):", "if not occupied and made(self._in_place):", "gate", 5),
    Fault("over-derail", "protections", "if occupied and made(self._in_place):", "if occupied and not made(self._in_place):", "derail", 5),
    Fault("gate-key", "protections", "if made(self.hook):", "if not made(self.hook):", "gate", 5),
    Fault("pulled-against-chock", "spur", "if chock.is_out():", "if chock.is_off():", "chock", 5),
    Fault("lined-behind-early", "spur", "if turn & RIGHTED and made(self.fouling):", "if turn & REVERSED and made(self.fouling):", "plain", 5),
    Fault("left-foul", "spur", "if made(self.fouling):\n                self._event.breach(Rule.LEFT", "if not made(self.fouling):\n                self._event.breach(Rule.LEFT", "plain", 5),
    Fault("not-returned", "spur", "if not item.is_back() and not isinstance", "if item.is_back() and not isinstance", "flag", 5),
    Fault("chock-not-returned", "spur", "not isinstance(item, ChockProtection)", "isinstance(item, ChockProtection)", "chock", 5),
    Fault("left-unchocked", "spur", "if should_be_set and not any(", "if should_be_set and any(", "chock", 5),
    Fault("moved-in-test", "spur", "if self.testing and not self._event.quiet:", "if not self.testing and not self._event.quiet:", "plain", 5),
    Fault("loud-when-lost", "contacts", "event.quiet = self.chattering or was is None", "event.quiet = self.chattering", "plain", 5),
    Fault("loud-chatter", "contacts", "event.quiet = self.chattering or was is None", "event.quiet = was is None", "plain", 5),
    # What is off and what is back.
    Fault("flag-off-when-lost", "protections", "return self._rack.settled is True", "return self._rack.settled is not False", "flag", 2),
    Fault("gate-off-when-lost", "protections", "return self._in_place.settled is False", "return self._in_place.settled is not True", "gate", 2),
    Fault("gate-back-unlocked", "protections", "(self._hasp is None or self._hasp.settled is True)", "True", "gate", 3),
    Fault("derail-back-off", "protections", "return self._in_place.settled is True\n\n\nclass Gate", "return self._in_place.settled is not None\n\n\nclass Gate", "derail", 3),
    Fault("switch-off-locked", "protections", "Points.REVERSE and not made(self._switch.hasp)", "Points.REVERSE", "plain", 3),
    Fault("chock-back-unset", "protections", "detector is not None and detector.settled is False", "detector is None or detector.settled is not True", "chock", 3),
    # Outputs.
    Fault("green-on-a-fault", "outputs", "switch.stage is Stage.SECURED and not switch.faults and not open_here()", "switch.stage is Stage.SECURED and not open_here()", "plain", 1),
    Fault("green-unacknowledged", "outputs", "switch.stage is Stage.SECURED and not switch.faults and not open_here()", "switch.stage is Stage.SECURED and not switch.faults", "plain", 1),
    Fault("green-unlocked", "outputs", "safe = switch.stage is Stage.SECURED and not switch.faults and", "safe = not switch.faults and", "plain", 1),
    Fault("red-dark", "outputs", "return Shows.OFF if safe else Shows.STEADY", "return Shows.STEADY if safe else Shows.OFF", "plain", 1),
    Fault("red-not-flashing", "outputs", "if open_here():\n            return Shows.FLASHING", "if not open_here():\n            return Shows.FLASHING", "plain", 1),
    Fault("bolt-on-a-fault", "outputs", "if may and sound else", "if may else", "flag", 2),
    Fault("bolt-before-order", "outputs", "may = switch.stage is not Stage.SECURED or not spurs", "may = switch.stage is Stage.SECURED or not spurs", "flag", 2),
    Fault("bolt-unready", "spur", "return all(item.is_off() for item in self._before_off[step])", "return any(item.is_off() for item in self._before_off[step])", "flags", 2),
    Fault("bolt-unsound", "spur", "return not any(item.faults for", "return not all(item.faults for", "flags", 2),
    Fault("power-on-a-guess", "outputs", "on = lined and switch.is_known() and spur.is_open()", "on = lined and spur.is_open()", "plain", 2),
    Fault("power-before-order", "outputs", "switch.is_known() and spur.is_open()", "switch.is_known()", "flag", 2),
    Fault("white-elsewhere", "outputs", "spur.next_step == switch.id", "spur.next_step != switch.id", "plain", 3),
    Fault("lamp-elsewhere", "outputs", "if spur.next_step == protection.step:", "if spur.next_step != protection.step:", "flag", 3),
    Fault("flag-lamp-dark", "outputs", "protection.is_out():\n            return Shows.STEADY", "protection.is_off():\n            return Shows.STEADY", "flag", 3),
    Fault("stale-outputs", "stand", "anew = anew or turn & CHANGED > 0", "pass", "bare", 1),
    Fault("shown-unchanged", "stand", "if shows is not fitted.shows:", "if shows is fitted.shows:", "plain", 1),
    Fault("buzzer-silent", "stand", "return Shows.OFF if self._buzz.due_us is None else Shows.ON", "return Shows.ON if self._buzz.due_us is None else Shows.OFF", "plain", 5),
    # Phases, faults, the ledger and time.
    Fault("next-not-first", "spur", "for item in self.opening:\n                if not item.is_off():\n                    return", "for item in reversed(self.opening):\n                if not item.is_off():\n                    return", "flags", 3),
    Fault("never-idle", "spur", "return Phase.IDLE if ends and self._all_back() else phase", "return phase", "plain", 4),
    Fault("work-done-ignored", "spur", "if self._done and (phase is", "if not self._done and (phase is", "plain", 4),
    Fault("faults-miscounted", "contacts", "self.home.faults += -1 if ended else 1", "self.home.faults += 1 if ended else -1", "plain", 1),
    Fault("loss-unnoticed", "contacts", "self._fault(Fault.LOST, ended=False)", "pass", "plain", 1),
    Fault("acknowledged-for-nothing", "ledger", "if stand != NO_STAND:\n            self.open_at[stand] += 1", "if stand == NO_STAND:\n            self.open_at[stand] += 1", "plain", 5),
    Fault("repeats-count", "contacts", "if made is self.raw:\n            return", "if made is None:\n            return", "plain", 7),
)  # fmt: skip

UNSEEN = {
    "over-speed": "A speed trap raises what belongs to no switch, and no lamp, bolt or next step "
    "depends on it; tests/published/test_published_speeds.py holds its arithmetic.",
    "power-unlined": "Power without asking for the stage changes nothing: that every protection is "
    "off asks already that the points lie reverse and unlocked, and there the stage is lined or "
    "in use; so the proof of the other core is true.",
    "settle-time": "How long a contact must hold is a quantity; the proof lets it settle at any "
    "time. tests/core and tests/oracle hold the times.",
}
"""Faults that the proof does not see, and why, and what sees them."""

UNSILENT = (
    "moved-while-locked",
    "thrown-under-train",
    "moved-on-arrival",
    "locked-off-normal",
    "locked-reverse-only",
    "gapped-points",
    "entered-gapped",
    "moved-under-flag",
    "flag-on-reverse",
    "loud-when-lost",
    "between-is-normal",
    "acknowledged-for-nothing",
)
"""Faults that the solver's encoding of what must not be silent finds as well."""

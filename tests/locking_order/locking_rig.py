"""The core, driven by what hands and trains do, with time for each contact to settle between."""

from __future__ import annotations

from locking_machine import Start, Trigger

from firmware_py.core.core import Core
from firmware_py.core.entries import Entry, StageEntry
from firmware_py.layout.reading import parse_layout

HEAD = '[layout]\nname = "One switch"\n[[switch]]\nid = "switch"\n'
CONTACTS = 'normal = "auto", reverse = "auto", detector = "auto" }'
PADLOCKED = parse_layout(f'{HEAD}contacts = {{ hasp = "auto", {CONTACTS}\n', "padlocked")
WITHOUT_LOCK = parse_layout(f'{HEAD}lock = "none"\ncontacts = {{ {CONTACTS}\n', "without lock")

STEP_US = 100_000
"""Between two contacts of one throw: longer than the 20 ms that they settle in."""

REST_US = 3_000_000
"""After each trigger: longer than the two seconds in which a detector becomes clear."""

POINTS = {
    Trigger.POINTS_TO_NORMAL: {"normal": True, "reverse": False},
    Trigger.POINTS_TO_REVERSE: {"normal": False, "reverse": True},
    Trigger.POINTS_BETWEEN: {"normal": False, "reverse": False},
    Trigger.POINTS_DISPUTED: {"normal": True, "reverse": True},
}
OTHERS = {
    Trigger.HASP_OPENS: {"hasp": False},
    Trigger.HASP_CLOSES: {"hasp": True},
    Trigger.OCCUPIED: {"detector": True},
    Trigger.CLEAR: {"detector": False},
}


class Rig:
    """One switch of the core. ``entered`` lists the stages that it has told of."""

    def __init__(self, *, padlocked: bool, start: Start | None = None) -> None:
        begins = start or Start()
        standing = {"detector": begins.train, **POINTS[begins.points]}
        if padlocked:
            standing["hasp"] = begins.locked
        layout = PADLOCKED if padlocked else WITHOUT_LOCK
        self.core = Core(layout, {f"switch.{role}": made for role, made in standing.items()})
        self.entered: list[str] = []
        self._t_us = 0

    def pull(self, trigger: Trigger) -> str:
        """Move the contacts that the trigger moves; the answer is the stage once all is settled.

        Of a throw's two contacts the one that opens goes first, as points leave one rail before
        they reach the other.
        """
        wanted = POINTS.get(trigger) or OTHERS[trigger]
        for role, made in sorted(wanted.items(), key=lambda item: item[1]):
            self._t_us += STEP_US
            self._take(self.core.reading(self._t_us, f"switch.{role}", made))
        self._t_us += REST_US
        self._take(self.core.advance(self._t_us))
        return self.stage

    @property
    def stage(self) -> str:
        """The stage now."""
        return self.core.stages()["switch"].value

    def _take(self, entries: object) -> None:
        assert isinstance(entries, list | tuple)
        told: list[Entry] = [*entries]
        self.entered += [entry.stage.value for entry in told if isinstance(entry, StageEntry)]

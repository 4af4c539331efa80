"""Instructions and remarks in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from firmware_py.commissioning.model import Evidence, Instruction, Step
from firmware_py.commissioning.wires import Wires

PREPARE = (
    "Leave every contact not made: hasps open, points in the middle, gates open, derails off "
    "the rail, flags and chocks out of their racks, keys off their hooks, no car on a detector "
    "or at a fouling point. Nobody works on the layout meanwhile."
)
LISTEN = "Touch nothing for {seconds} s: the leads are listened to."
DARK = "Nothing is driven now. Is any lamp lit, bolt drawn, track power on or buzzer sounding?"
FINISHED = "Every wire is through. Put the layout back in order."
SOUND = "as it should"


class Telling:
    """Words about the wires of one layout."""

    def __init__(self, wires: Wires, evidence: Evidence, listen_s: int) -> None:
        self._wires = wires
        self._evidence = evidence
        self._listen_s = listen_s

    def instruction(  # noqa: PLR0913 - one argument for each thing it says
        self,
        number: int,
        step: Step,
        about: str | None,
        *,
        remark: str,
        again: bool,
        until_us: int | None,
    ) -> Instruction:
        """An instruction with its text and how far it all is."""
        every = (*self._wires.contacts, *self._wires.outputs)
        over = {*self._evidence.tested, *self._evidence.skipped}
        drive = self._wires.drives[about] if step is Step.LOOK and about else None
        return Instruction(
            number,
            step,
            self._text(step, about),
            about,
            drive,
            again,
            remark,
            until_us,
            sum(name in over for name in every),
            len(every),
        )

    def seen(
        self, asked: Instruction, before: Mapping[str, bool], now: Mapping[str, bool]
    ) -> tuple[str, bool]:
        """What was seen at a step, and whether the builder should be asked once more for it."""
        if asked.step is Step.PREPARE:
            made = [name for name, is_made in now.items() if is_made]
            return self._still_made(made), bool(made)
        moved = [name for name, made in now.items() if before.get(name) is not made]
        if not moved:
            return "nothing moved", True
        wanted = asked.step is Step.MAKE
        if moved == [asked.about]:
            right = now[moved[0]] is wanted
            return (SOUND if right else f"{moved[0]} moved the wrong way about"), False
        also = [name for name in moved if name != asked.about]
        instead = "as well" if asked.about in moved else f"instead of {asked.about}"
        return f"{', '.join(also)} moved {instead}", False

    def heard(self, noisy: Sequence[str]) -> str:
        """What listening gave."""
        if not noisy:
            return "all quiet"
        return f"{', '.join(noisy)} changed while nobody touched anything"

    def _still_made(self, made: Sequence[str]) -> str:
        if not made:
            return "no contact is made"
        return f"still read as made: {', '.join(made)}; see to them, or go on if they are not"

    def _text(self, step: Step, about: str | None) -> str:
        match step:
            case Step.PREPARE:
                return PREPARE
            case Step.LISTEN:
                return LISTEN.format(seconds=self._listen_s)
            case Step.MAKE | Step.BREAK:
                return self._wires.moves[about or ""][step is Step.BREAK]
            case Step.DARK:
                return DARK
            case Step.LOOK:
                return self._wires.looks[about or ""]
            case Step.FINISHED:
                return FINISHED

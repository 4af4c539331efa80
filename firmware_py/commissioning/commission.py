"""Leading through every wire: told edges, answers and the time, it says what to do next."""

from __future__ import annotations

from collections.abc import Mapping

from firmware_py.commissioning.evidence import fitted, forget, pins_now, put_look
from firmware_py.commissioning.model import (
    Answer,
    Burst,
    Evidence,
    Finding,
    Instruction,
    Said,
    Step,
)
from firmware_py.commissioning.naming import findings_of
from firmware_py.commissioning.planning import Planner
from firmware_py.commissioning.telling import Telling
from firmware_py.commissioning.watching import Watch
from firmware_py.commissioning.wires import wires_of
from firmware_py.layout.model import Layout

HOLD_US = 600_000
"""After an answer, or after the contact moved, all stand still for so long before they are read."""

READ_US = 400_000
"""The end of that time, over most of which a level must have stood to count."""

LISTEN_US = 10_000_000
"""How long leads are listened to while nobody touches anything."""

_MOVES = (Step.MAKE, Step.BREAK)


class Commission:
    """One commissioning of a layout. All times are microseconds of one steady clock.

    ``levels`` is how every contact reads at ``now_us`` (``None``: it can't be read).
    ``evidence`` goes on with an earlier one; the contacts must then be prepared anew.
    ``listen_us`` is how long leads are listened to.
    """

    def __init__(
        self,
        layout: Layout,
        now_us: int,
        levels: Mapping[str, bool | None],
        evidence: Evidence | None = None,
        listen_us: int = LISTEN_US,
    ) -> None:
        self.wires = wires_of(layout)
        self.evidence = fitted(evidence, self.wires) if evidence else Evidence()
        self.evidence.pins = pins_now(self.wires)
        self._planner = Planner(self.wires, self.evidence)
        self._watch = Watch({name: levels.get(name) for name in self.wires.contacts}, now_us)
        self._listen_us = listen_us
        self._telling = Telling(self.wires, self.evidence, listen_us // 1_000_000)
        self._hands: set[str] = set()
        self._seen: dict[str, bool] = {}
        self._read_at_us: int | None = None
        self._number = 0
        self.instruction = self._begin(Step.PREPARE, None, now_us)

    @property
    def complete(self) -> bool:
        """Whether every wire was tested or skipped, and all that follows from that was seen."""
        return self.instruction.step is Step.FINISHED

    @property
    def waits(self) -> bool:
        """Whether an answer would be taken now: not while contacts are read or listened to."""
        return self._read_at_us is None and self.instruction.step is not Step.LISTEN

    @property
    def levels(self) -> dict[str, bool | None]:
        """How every contact reads now."""
        return dict(self._watch.levels)

    @property
    def moved(self) -> tuple[str, ...]:
        """The contacts that changed since the step began, whoever moved them."""
        return tuple(name for name in self.wires.contacts if self._watch.edges(name))

    def edge(self, t_us: int, contact: str, made: bool | None) -> None:
        """Take a raw edge."""
        self._watch.edge(t_us, contact, made)

    def answer(self, answer: Answer, now_us: int) -> None:
        """Take an answer; one to an earlier instruction, or that does not fit, is ignored."""
        asked = self.instruction
        if answer.number != asked.number or self._read_at_us is not None:
            return
        match answer.said:
            case Said.SKIP:
                self._skip(now_us)
            case Said.DONE if asked.step in (Step.PREPARE, *_MOVES):
                self._read_at_us = now_us + HOLD_US
            case Said.SEEN if asked.step in (Step.DARK, Step.LOOK):
                self._looked(answer.seen, now_us)

    def time(self, now_us: int) -> None:
        """Take the time: what has ended by itself, ends."""
        asked = self.instruction
        if asked.step is Step.LISTEN:
            if asked.until_us is not None and now_us >= asked.until_us:
                self._listened(now_us)
        elif self._read_at_us is not None:
            if now_us >= self._read_at_us:
                self._read(now_us)
        elif asked.step in _MOVES and self._moved_alone(now_us):
            self._read(now_us)

    def findings(self) -> tuple[Finding, ...]:
        """What is wrong; nothing before all wires are through, since all of them are evidence."""
        return findings_of(self._planner) if self.complete else ()

    def end(self, now_us: int) -> None:
        """Skip all that is left, so that there is a record of what was seen."""
        self._note_found()
        over = {*self.evidence.tested, *self.evidence.skipped}
        every = (*self.wires.contacts, *self.wires.outputs)
        self.evidence.skipped += [name for name in every if name not in over]
        self._read_at_us = None
        self.instruction = self._begin(Step.FINISHED, None, now_us)

    def repeat(self, stand: str, now_us: int) -> tuple[str, ...]:
        """Test the wires of a stand or thing again, with all that is found together with them.

        The answer is the names of these wires; none if there is no such stand.
        """
        names = {*self.wires.at(stand)}
        if not names:
            return ()
        self._note_found()
        # What was found with others may be mended at either end: those are stale as well.
        for finding in self.findings():
            if names & {*finding.names}:
                names |= {*finding.names}
        forget(self.evidence, names)
        self._planner.given_up -= names
        if names & {*self.wires.outputs}:
            self.evidence.lights[:] = [look for look in self.evidence.lights if look.made]
        self.prepare(now_us)
        every = (*self.wires.contacts, *self.wires.outputs)
        return tuple(name for name in every if name in names)

    def prepare(self, now_us: int) -> None:
        """Go on after a pause, in which anything may have been moved: prepare all anew."""
        self._read_at_us = None
        self.instruction = self._begin(Step.PREPARE, None, now_us)

    def _note_found(self) -> None:
        found = self.evidence.found
        found += [one.text for one in self.findings() if one.text not in found]

    def _begin(
        self,
        step: Step,
        about: str | None,
        now_us: int,
        *,
        remark: str = "",
        again: bool = False,
    ) -> Instruction:
        self._watch.begin(now_us)
        self._number += 1
        until_us = now_us + self._listen_us if step is Step.LISTEN else None
        return self._telling.instruction(
            self._number, step, about, remark=remark, again=again, until_us=until_us
        )

    def _go_on(self, now_us: int, remark: str = "") -> None:
        step, about = self._planner.next(self._hands, self._seen)
        self.instruction = self._begin(step, about, now_us, remark=remark)

    def _moved_alone(self, now_us: int) -> bool:
        """Whether the contact asked for, and no other, has moved as it should, and stands still."""
        about, watch = self.instruction.about, self._watch
        assert about is not None, "a move is of a contact"
        wanted = self.instruction.step is Step.MAKE
        if watch.levels[about] is not wanted or now_us - watch.last_edge_us(about) < HOLD_US:
            return False
        if self._seen.get(about) is wanted or now_us - watch.began_us < HOLD_US:
            return False
        others = self._seen.items()
        return all(watch.levels[name] is made for name, made in others if name != about)

    def _read(self, now_us: int) -> None:
        """Read all contacts after a move, or after the builder has left all of them not made."""
        self._read_at_us = None
        asked, watch = self.instruction, self._watch
        standing = watch.standing(now_us - READ_US, now_us)
        levels = {name: made for name, made in standing.items() if made is not None}
        lost = [name for name in standing if name not in levels]
        self.evidence.lost += [name for name in lost if name not in self.evidence.lost]
        remark, odd = self._telling.seen(asked, self._seen, levels)
        if odd and not asked.again:
            self.instruction = self._begin(
                asked.step, asked.about, now_us, remark=remark, again=True
            )
            return
        if asked.about is None:
            self._hands.clear()
        else:
            self._moved(asked.step, asked.about, levels)
        put_look(self.evidence.looks, self._hands, levels)
        self._seen = levels
        self._go_on(now_us, remark)

    def _moved(self, step: Step, about: str, levels: Mapping[str, bool]) -> None:
        evidence = self.evidence
        evidence.moves[about] = evidence.moves.get(about, 0) + 1
        for name, made in levels.items():
            move = self._watch.move(name)
            if move is not None and self._seen.get(name) is not made:
                evidence.bursts.append(Burst(about, name, move.us, move.edges))
        if step is Step.MAKE:
            self._hands.add(about)
            return
        self._hands.discard(about)
        if about not in (*evidence.tested, *evidence.skipped) and not self._hands:
            evidence.tested.append(about)

    def _listened(self, now_us: int) -> None:
        for name, made in self._seen.items():
            if made is self.wires.contacts[name].inverted:
                earlier = self.evidence.heard.get(name, 0)
                self.evidence.heard[name] = max(earlier, self._watch.edges(name))
        noisy = [name for name in self._planner.noisy() if self._watch.edges(name)]
        self._go_on(now_us, self._telling.heard(noisy))

    def _looked(self, seen: tuple[str, ...], now_us: int) -> None:
        about = self.instruction.about
        levels = {name: name in seen for name in self.wires.outputs}
        put_look(self.evidence.lights, [about] if about else [], levels)
        if about:
            self.evidence.tested.append(about)
        self._go_on(now_us)

    def _skip(self, now_us: int) -> None:
        step, about = self.instruction.step, self.instruction.about
        if step is Step.DARK:
            over = {*self.evidence.tested, *self.evidence.skipped}
            self.evidence.skipped += [name for name in self.wires.outputs if name not in over]
        elif about is None:
            return
        else:
            self._leave(about)
        self._go_on(now_us)

    def _leave(self, about: str) -> None:
        self._hands.discard(about)
        if about in self.evidence.tested:
            self._planner.given_up.add(about)
        elif about not in self.evidence.skipped:
            self.evidence.skipped.append(about)

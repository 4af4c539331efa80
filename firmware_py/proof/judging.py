"""What is looked at after every move, from every state: properties 1, 2, 3 (the step) and 5.

A check runs inside the run, so that what it reads splits the run further where it must.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import partial

from firmware_py.core.names import Phase, Shows
from firmware_py.core.spur import Spur
from firmware_py.core.stand import Fitted, Stand
from firmware_py.core.switch import Switch
from firmware_py.proof.cells import Cell, Infeasible
from firmware_py.proof.counted import FaultCount, is_faulty
from firmware_py.proof.facts import Facts
from firmware_py.proof.findings import ENOUGH, OUGHT, UNSHOWN, Finding, how_it_stood, said
from firmware_py.proof.moves import Move
from firmware_py.proof.rules import ought_to_raise_at_stand, ought_to_raise_at_switch, wrong_marks
from firmware_py.proof.shown import ought_to_show
from firmware_py.proof.watch import Report, Watch

PROPERTY_OF = {"green": 1, "red": 1, "bolt": 2, "power": 2, "white": 3, "lamp": 3, "buzzer": 5}


@dataclass(slots=True)
class Judge:
    """Looks at every run of one watched core."""

    watch: Watch
    findings: list[Finding] = field(default_factory=list)
    facts: Facts = field(init=False)
    stand: int = 0
    shown: dict[Stand, list[Fitted]] = field(default_factory=dict)
    _depends: dict[object, set[Cell]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.facts = Facts(self.watch)
        self.watch.memory.failed = self.fail

    def fail(self, error: Exception) -> None:
        """The core itself has failed: from there no way leads back."""
        self._note(4, f"the core fails: {error!r}", None)

    def learn(self, stand: Stand, shown: list[Fitted]) -> None:
        """Find out on which cells each output and each next step depends."""
        self.shown[stand] = shown
        for fitted in shown:
            self._depends[fitted] = self._reads(fitted.look)
        for spur in stand.spurs:
            steps = [self._reads(partial(spur._step_in, phase)) for phase in Phase]
            self._depends[spur] = set().union(*steps, self._reads(spur._all_back))
            self._depends[spur] |= set(self.watch.of_spur[spur.id].values())

    def _reads(self, ask: Callable[[], object]) -> set[Cell]:
        memory = self.watch.memory
        reads: set[Cell] = set()
        memory.reads = reads

        def run() -> None:
            try:
                ask()
            except StopIteration:
                raise Infeasible from None

        for _ in memory.runs({}, run):
            pass
        memory.reads = None
        return reads

    # After each run.

    def at_switch(self, move: Move) -> None:
        """What a switch did by itself: its faults, and what it raised and reported."""
        stand = self.watch.stands[move.stand]
        self._count_faults(stand, move)
        report = self.watch.told
        assert report is not None, "the run ended as the stand began to conclude"
        raised: set[object] = {(breach[1], breach[2]) for breach in report.breaches}
        self._compare_rules(ought_to_raise_at_switch(self.facts, move), raised, move)
        for wrong in wrong_marks(self.facts, stand, move, report):
            self._note(5, wrong, move, hidden=True)

    def at_stand(self, done: Move | Report) -> None:
        """What a stand made of an event: its rules, its next steps and all that it shows."""
        stand = self.watch.stands[done.stand]
        self._at_spurs(stand, done)
        probe = self.watch.probe
        if probe is None:
            for fitted in stand.fitted:
                self._judge_output(stand, fitted, fitted.shows, done)
            return
        if probe.asked is not probe.shows:
            self._note(1, UNSHOWN, done)
        late = self._written_since(probe.seen)
        for fitted in self.shown[stand]:
            if not self._depends[fitted].isdisjoint(late):
                # Not shown anew, it shows what it showed before.
                self._judge_output(stand, fitted, fitted.shows, done)

    def standing(self, stand: Stand) -> Iterator[None]:
        """What every output and next step is worked out to be, wherever everything may stand."""
        for fitted in self.shown[stand]:

            def look(it: Fitted = fitted) -> None:
                self._judge_output(stand, it, it.look(), None)

            yield from self.watch.memory.runs({}, look)
        for spur in stand.spurs:

            def step(it: Spur = spur) -> None:
                try:
                    said: object = it._step_in(it.phase)
                except StopIteration:
                    raise Infeasible from None
                if said != self.facts.next_step(it):
                    self._note(3, f"the next step of {it.id} is not the first one left", None)

            yield from self.watch.memory.runs({}, step)

    def _written_since(self, count: int) -> set[Cell]:
        memory = self.watch.memory
        if count >= 0:
            return set(memory.log[count:])
        return {*memory.written, *(memory.step.changed if memory.step else ())}

    def _at_spurs(self, stand: Stand, done: Move | Report) -> None:
        if isinstance(done, Move):
            self._count_faults(stand, done)
        raised: set[object] = {(rule, at, missing) for rule, at, missing, _, _ in self.watch.raised}
        self._compare_rules(ought_to_raise_at_stand(self.facts, stand, done), raised, done)
        if raised and not self.facts.stands_open(stand):
            self._note(5, "a violation was raised and none stands", done)
        for spur in stand.spurs:
            self._judge_spur(spur, done)

    def _compare_rules(self, ought: set[object], raised: set[object], done: Move | Report) -> None:
        for breach in ought - raised:
            self._note(5, f"silent: {said(breach)}", done)
        for breach in raised - ought:
            self._note(5, f"without cause: {said(breach)}", done)

    def _judge_spur(self, spur: Spur, done: Move | Report) -> None:
        if spur.dirty or spur._begins or spur._done:
            self._note(3, f"{spur.id} was not concluded", done)
        late = self._written_since(self.watch.concluded.get(spur, -1))
        if self.watch.probe is not None and self._depends[spur].isdisjoint(late):
            return
        try:
            ought = self.facts.next_step(spur)
        except Infeasible:
            self.facts.before(lambda: self.facts.next_step(spur))  # So it was before: none such.
            self._note(4, f"{spur.id} stays closing with everything back", done)
            return
        if spur.next_step != ought:
            self._note(3, f"the next step of {spur.id} is not the first one left", done)

    def _judge_output(
        self, stand: Stand, fitted: Fitted, shows: Shows, done: Move | Report | None
    ) -> None:
        ought = ought_to_show(self.facts, stand, fitted)
        if shows is not ought:
            what = f"{fitted.output} of {fitted.of} shows {shows}{OUGHT}{ought}"
            self._note(PROPERTY_OF[fitted.output], what, done)

    def _count_faults(self, stand: Stand, move: Move) -> None:
        """A count of faults goes up and down with what happens to the contacts."""
        watch, memory = self.watch, self.watch.memory
        things = {contact.home for contact in watch.contacts.values() if contact.judge is stand}
        for thing in things - {None}:
            count = memory.derived.get((thing, "faults"))
            added = count.added if isinstance(count, FaultCount) else 0
            if added != self._happened(thing):
                what = f"the faults at {getattr(thing, 'id', move.on)} are miscounted"
                self._note(1, what, move, hidden=True)
            elif added and thing is not stand.switch and not isinstance(thing, Switch):
                is_faulty(watch, thing)

    def _happened(self, thing: object) -> int:
        watch, memory = self.watch, self.watch.memory
        change = 0
        for name, contact in watch.contacts.items():
            if contact.home is not thing:
                continue
            for cell, fault in ((watch.settled[name], None), (watch.chattering[name], True)):
                if cell in memory.written:
                    was = self.facts.before(lambda c=cell: memory.read(c))  # type: ignore[misc]
                    change += (memory.read(cell) is fault) - (was is fault)
        if isinstance(thing, Switch):
            cells = watch.of_switch[thing.id]
            if cells["points"] in memory.written:
                switch = self.facts.switch(thing.id)
                was = self.facts.before(lambda: self.facts.is_disputed(switch))
                change += self.facts.is_disputed(switch) - bool(was)
        return change

    def ignored(self, move: Move) -> None:
        """The core took no notice of an event."""
        self._note(5, f"no notice is taken: {move}", move)

    def _note(
        self, number: int, what: str, done: Move | Report | None, *, hidden: bool = False
    ) -> None:
        if len(self.findings) < ENOUGH and all(it.what != what for it in self.findings):
            after = str(done) if isinstance(done, Move) else "a step of the switch"
            on = done.on if isinstance(done, Move) else ""
            stand = self.stand if done is None else done.stand
            self.findings.append(
                Finding(number, what, after, stand, on, how_it_stood(self.watch), hidden)
            )

    def has(self, finding: Finding) -> bool:
        """Whether the same as ``finding`` was found since the list was last emptied."""
        met = any(
            it.what == finding.what or (finding.what == UNSHOWN and OUGHT in it.what)
            for it in self.findings
        )
        self.findings = []
        return met

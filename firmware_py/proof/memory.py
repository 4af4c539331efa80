"""All parts of one core and the run that is going on, which splits where states disagree."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Iterator

from firmware_py.proof.cells import Cell, Infeasible, Part, State, Test, bits


class Step:
    """What one part did before the run began: a part of its own, of states before and after."""

    def __init__(self, memory: Memory, of: Part, carried: Iterable[Cell]) -> None:
        self.of = of
        self.part = memory.part(f"{of.name} step")
        self.carried = tuple(carried)
        self._before = {cell: Cell(self.part, f"{cell.name} before") for cell in self.carried}
        self._after = {cell: Cell(self.part, f"{cell.name} after") for cell in self.carried}
        self._tests: dict[tuple[Test, bool], Test] = {}
        self.changed: set[Cell] = set()
        """The cells that differ before and after, in some state of those looked at now."""

    def look_at(self, states: Iterable[State]) -> int:
        """Take these steps up; the answer is their domain."""
        domain, count = 0, len(self.carried)
        self.changed = set()
        for state in states:
            self.part.add(state)
            domain |= 1 << self.part.at[state]
            self.changed |= {
                cell for at, cell in enumerate(self.carried) if state[at] is not state[at + count]
            }
        return domain

    def cell(self, cell: Cell, *, before: bool) -> Cell:
        """Where a cell of the part stood before the step, or stands after it."""
        return (self._before if before else self._after)[cell]

    def state(self, before: State, after: State) -> State:
        """The step from one state to another, as far as others can see it."""
        places = [cell.index for cell in self.carried]
        return (*(before[place] for place in places), *(after[place] for place in places))

    def test(self, test: Test, *, before: bool) -> Test:
        """The test, asked before or after the step."""
        mine = self._tests.get((test, before))
        if mine is None:
            mine = self._tests[test, before] = Test(self.part, test.ask, before=before)
        return mine


class Memory:
    """All parts of one core, and the run that is going on."""

    def __init__(self) -> None:
        self.parts: list[Part] = []
        self.domain: list[int] = []
        self.written: dict[Cell, Hashable] = {}
        self.derived: dict[object, Hashable] = {}
        self.failed: Callable[[Exception], None] | None = None
        """Told where the core itself fails; if nobody is, the failure is raised."""
        self.log: list[Cell] = []
        """The cells written in this run, in order."""
        self.before = False
        """Whether cells are read as they were before the run."""
        self.reads: set[Cell] | None = None
        self.step: Step | None = None
        """The step of a part that was taken before the run, where one was."""
        self._script: list[list[int]] = []
        self._place = 0

    def part(self, name: str) -> Part:
        """A new part."""
        part = Part(name, len(self.parts))
        self.parts.append(part)
        return part

    # One run, and all runs of one kind.

    def runs(self, outset: dict[Part, int], run: Callable[[], None]) -> Iterator[None]:
        """Do ``run`` once for each way in which its readings can turn out, from ``outset``.

        Parts that ``outset`` does not name stand at all their states. Yields after each run.
        """
        full = [part.full for part in self.parts]
        for part, domain in outset.items():
            full[part.place] = domain
        self._script = []
        while True:
            self.domain = list(full)
            self.written = {}
            self.derived = {}
            self.log = []
            self.before = False
            self._place = 0
            try:
                run()
            except Infeasible:
                pass
            except (
                LookupError,
                StopIteration,
            ) as error:  # A table of the core's has no answer to this.
                if self.failed is None:
                    raise
                self.failed(error)
            else:
                yield
            while self._script and self._script[-1][0] + 1 >= self._script[-1][1]:
                self._script.pop()
            if not self._script:
                return
            self._script[-1][0] += 1

    def choose(self, count: int) -> int:
        """A number below ``count``: each in turn, run by run."""
        if count == 1:
            return 0
        place = self._place
        self._place = place + 1
        if place == len(self._script):
            self._script.append([0, count])
            return 0
        return self._script[place][0]

    def read(self, cell: Cell) -> Hashable:
        """The value of a cell in this run."""
        if self.reads is not None:
            self.reads.add(cell)
        if not self.before and cell in self.written:
            return self.written[cell]
        if self.step is not None and cell.part is self.step.of:
            cell = self.step.cell(cell, before=self.before)
        place = cell.part.place
        domain = self.domain[place]
        if not domain & (domain - 1):
            if not domain:
                raise Infeasible
            return cell.part.states[domain.bit_length() - 1][cell.index]
        options = [pair for pair in cell.masks.items() if pair[1] & domain]
        if len(options) == 1:
            return options[0][0]
        value, mask = options[self.choose(len(options))]
        self.domain[place] = domain & mask
        return value

    def write(self, cell: Cell, value: Hashable) -> None:
        """Set a cell."""
        self.written[cell] = value
        self.log.append(cell)

    def test(self, test: Test) -> bool:
        """The answer of a test in this run, which splits no further than that."""
        if self.step is not None and test.part is self.step.of:
            test = self.step.test(test, before=self.before)
        part = test.part
        if self.reads is not None or (not self.before and self._touched(part)):
            return test.ask()
        if test.seen < len(part.states):
            self._learn(test)
        domain = self.domain[part.place]
        yes, no = test.yes & domain, test.no & domain
        if not yes and not no:
            raise Infeasible
        answer = bool(yes) and (not no or self.choose(2) == 0)
        self.domain[part.place] = yes if answer else no
        return answer

    def _touched(self, part: Part) -> bool:
        return any(cell.part is part for cell in self.written)

    def _learn(self, test: Test) -> None:
        part, kept, before = test.part, self.domain[test.part.place], self.before
        self.before = test.before
        for number in range(test.seen, len(part.states)):
            bit = 1 << number
            self.domain[part.place] = bit
            if test.ask():
                test.yes |= bit
            else:
                test.no |= bit
        test.seen = len(part.states)
        self.domain[part.place], self.before = kept, before

    def require(self, cell: Cell, value: Hashable) -> None:
        """Go on only where a cell has a value now."""
        if cell in self.written:
            if self.written[cell] != value:
                raise Infeasible
            return
        self.restrict(cell, lambda it: it == value)

    def restrict(self, cell: Cell, wanted: Callable[[Hashable], bool]) -> None:
        """Go on only with states in which the cell has a value that is wanted."""
        place = cell.part.place
        keep = 0
        for value, mask in cell.masks.items():
            if wanted(value):
                keep |= mask
        self.domain[place] &= keep
        if not self.domain[place]:
            raise Infeasible

    def reached(self) -> Iterator[tuple[Part, State, State]]:
        """The states after the run of every part that was written: part, before, after."""
        writes: dict[Part, list[tuple[int, Hashable]]] = {}
        for cell, value in self.written.items():
            writes.setdefault(cell.part, []).append((cell.index, value))
        for part, changes in writes.items():
            key = tuple(sorted(changes, key=_index_of))
            done = part.moved.get(key, 0)
            domain = self.domain[part.place]
            part.moved[key] = done | domain
            for number in bits(domain & ~done):
                before = part.states[number]
                after = list(before)
                for index, value in changes:
                    after[index] = value
                yield part, before, tuple(after)


def _index_of(change: tuple[int, Hashable]) -> int:
    return change[0]

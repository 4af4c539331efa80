"""A builder at the terminal: lines and edges go to the core, and its instructions are printed."""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Callable
from enum import Enum
from queue import Empty, SimpleQueue
from typing import TextIO

from firmware_py.commands.commission_driving import show_only
from firmware_py.commands.commission_hands import HandError, Hands
from firmware_py.commissioning.commission import Commission
from firmware_py.commissioning.model import Answer, Evidence, Instruction, Said, Step
from firmware_py.commissioning.record import finding_lines
from firmware_py.layout.errors import printable
from firmware_py.layout.model import Layout
from firmware_py.pins.board import Board

TURN_S = 0.05
MOVES = (Step.PREPARE, Step.MAKE, Step.BREAK)
LOOKS = (Step.DARK, Step.LOOK)

HELP = """\
  Enter            it is done (a contact that moves as it should needs no Enter)
  y, n             only that is on; nothing is on
  red of kiln-switch, green of ...
                   that is on (several with commas between)
  skip             leave this wire untested
  repeat STAND     test the wires of a stand or thing again
  stands           which stands there are
  end              skip all that is left, and write the record
  stop             stop; the same command goes on later
  help             these lines"""
HELP_HANDS = """\
  do               (simulated pins) hands do what is asked
  make CONTACT, break CONTACT
                   (simulated pins) hands move a contact"""


class Ended(Enum):
    """How a sitting ended."""

    STOPPED = "stopped"
    THROUGH = "through"


class Sitting:
    """One sitting. ``keep`` is called with the evidence whenever there is more of it."""

    def __init__(  # noqa: PLR0913 - the sitting's surroundings, each by its name
        self,
        layout: Layout,
        board: Board,
        evidence: Evidence | None,
        *,
        keep: Callable[[Evidence], None],
        out: TextIO,
        listen_s: int,
    ) -> None:
        self._board = board
        self._keep = keep
        self._out = out
        self._came: SimpleQueue[tuple[int, str, bool | None] | str | None] = SimpleQueue()
        self._lines: deque[str | None] = deque()
        self._hands = Hands(layout, board) if board.simulated else None
        board.watch(lambda t_us, name, made: self._came.put((t_us, name, made)))
        levels = board.levels()
        self.commission = Commission(layout, _now_us(), levels, evidence, listen_s * 1_000_000)
        self._told = 0

    def run(self, lines: TextIO) -> Ended:
        """Go on until all is through and the builder says so, or until he stops."""
        threading.Thread(target=self._read, args=(lines,), daemon=True).start()
        self._say('Type "help" for what you can answer, "stop" to stop.')
        while True:
            self._tell()
            self._turn(TURN_S)
            self.commission.time(_now_us())
            if self._lines and (self.commission.waits or self._lines[0] == "stop"):
                line = self._lines.popleft()
                self._tell()
                if line is None or line == "stop":
                    self._keep(self.commission.evidence)
                    return Ended.STOPPED
                if self.commission.complete and not line:
                    return Ended.THROUGH
                self._take(line)

    def ask(self, what: str, usual: str = "") -> str:
        """Ask for a field of the record; an empty line, or none any more, means the usual."""
        self._say(f"{what}{f' [{usual}]' if usual else ''}:")
        while not self._lines:
            self._turn(TURN_S)
        line = self._lines[0]
        if line is None:
            return usual
        self._lines.popleft()
        return line or usual

    def _turn(self, seconds: float) -> None:
        """Take what came; wait for the first of it at most so long."""
        wait: float | None = seconds
        while True:
            try:
                came = self._came.get(timeout=wait) if wait else self._came.get_nowait()
            except Empty:
                return
            wait = None
            if isinstance(came, tuple):
                self.commission.edge(*came)
            else:
                self._lines.append(came)

    def _read(self, lines: TextIO) -> None:
        for line in lines:
            self._came.put(line.strip())
        self._came.put(None)

    def _tell(self) -> None:
        """Print a new instruction, drive what it asks for, and keep what led to it."""
        asked = self.commission.instruction
        if asked.number == self._told:
            return
        self._told = asked.number
        show_only(self._board, asked.drive)
        self._keep(self.commission.evidence)
        if asked.remark:
            self._say(f"    {asked.remark}")
        again = "Once more: " if asked.again else ""
        self._say(f"[{asked.done}/{asked.of}] {again}{asked.text}")
        if asked.step is Step.FINISHED:
            for line in finding_lines(self.commission.findings()):
                self._say(line)
            self._say('Mend, and "repeat STAND"; or Enter to write the record, or "stop".')

    def _take(self, line: str) -> None:
        """Do what a line says."""
        asked, now_us = self.commission.instruction, _now_us()
        word, _, rest = line.partition(" ")
        match word:
            case "help":
                self._say(HELP + (f"\n{HELP_HANDS}" if self._hands else ""))
            case "stands":
                self._say("\n".join(f"  {stand}" for stand in self.commission.wires.stands))
            case "skip":
                self.commission.answer(Answer(asked.number, Said.SKIP), now_us)
            case "end":
                self.commission.end(now_us)
            case "repeat":
                again = self.commission.repeat(rest.strip(), now_us)
                self._say(f"again: {', '.join(again)}" if again else f"no stand or thing {rest!r}")
            case "do" | "make" | "break":
                self._move(word, rest.strip(), asked)
            case _:
                self._answer(line, asked, now_us)

    def _move(self, word: str, name: str, asked: Instruction) -> None:
        if self._hands is None:
            self._say("these contacts are real: move them by hand")
            return
        try:
            if word == "do":
                self._hands.obey(asked)
            else:
                self._hands.move(name, made=word == "make")
        except HandError as error:
            self._say(str(error))
            return
        if word == "do" and asked.step in MOVES:
            # The edges come first, as they would if the hands were real.
            self._turn(0)
            self.commission.answer(Answer(asked.number, Said.DONE), _now_us())

    def _answer(self, line: str, asked: Instruction, now_us: int) -> None:
        if asked.step in MOVES and not line:
            self.commission.answer(Answer(asked.number, Said.DONE), now_us)
            return
        seen = self._seen(line, asked) if asked.step in LOOKS else None
        if seen is None:
            self._say(f'{line!r} is no answer to this; "help" tells what is')
            return
        self.commission.answer(Answer(asked.number, Said.SEEN, seen), now_us)

    def _seen(self, line: str, asked: Instruction) -> tuple[str, ...] | None:
        """Which outputs a line says are on; ``None`` if it can't be understood."""
        if line in ("n", "no"):
            return ()
        if line in ("y", "yes"):
            if asked.about:
                return (asked.about,)
            self._say("then give the names of all that are on, such as: red of kiln-switch")
            return None
        names = tuple(" ".join(name.split()) for name in line.split(","))
        strange = [name for name in names if name not in self.commission.wires.outputs]
        return None if strange or not line else names

    def _say(self, text: str) -> None:
        print(printable(text) if "\n" not in text else text, file=self._out, flush=True)


def _now_us() -> int:
    return time.monotonic_ns() // 1000

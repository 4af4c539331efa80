"""A builder at the terminal, and on a phone: what they answer and all edges go to the core."""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Callable
from queue import Empty, SimpleQueue
from typing import TextIO

from firmware_py.commands.commission_driving import show_only
from firmware_py.commands.commission_hands import HandError, Hands
from firmware_py.commands.commission_pages import Pages
from firmware_py.commands.commission_words import (
    HELP,
    HELP_HANDS,
    Ended,
    Line,
    SignedError,
    is_no_answer,
    seen_in,
)
from firmware_py.commissioning.asking import LOOKS, MOVES
from firmware_py.commissioning.commission import Commission
from firmware_py.commissioning.model import Answer, Evidence, Instruction, Said, Step
from firmware_py.commissioning.record import finding_lines
from firmware_py.commissioning.showing import State
from firmware_py.layout.errors import printable
from firmware_py.layout.model import Layout
from firmware_py.pins.board import Board

TURN_S = 0.05


class Sitting:
    """One sitting. ``keep`` is called with the evidence whenever there is more of it.

    With ``pages``, the terminal's end ends nothing.
    """

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
        self._came: SimpleQueue[tuple[int, str, bool | None] | Line] = SimpleQueue()
        self._lines: deque[Line] = deque()
        self._hands = Hands(layout, board) if board.simulated else None
        board.watch(lambda t_us, name, made: self._came.put((t_us, name, made)))
        levels = board.levels()
        self.commission = Commission(layout, _now_us(), levels, evidence, listen_s * 1_000_000)
        self.pages: Pages | None = None
        self.state = State.ASKING
        self.record: int | None = None
        self._told = 0

    def run(self, lines: TextIO) -> Ended:
        """Go on until all is through and the builder says so, or until he stops."""
        threading.Thread(target=self._read, args=(lines,), daemon=True).start()
        self.say('Type "help" for what you can answer, "stop" to stop.')
        while True:
            self.tell()
            self._turn(TURN_S)
            if self.state is State.ASKING:
                self.commission.time(_now_us())
            ended = self._terminal() or self._asked()
            if ended is not None:
                return ended

    def ask(self, what: str, usual: str = "") -> str:
        """Ask for a field of the record; an empty line, or none any more, means the usual.

        Raises :class:`SignedError` if the phone signs meanwhile.
        """
        if self.pages is not None:
            self.pages.writing = True
        self.say(f"{what}{f' [{usual}]' if usual else ''}:")
        while not self._lines:
            self._turn(TURN_S)
            if self._asked() is Ended.SIGNED:
                raise SignedError
        line = self._lines[0].text
        if line is None:
            return usual
        self._lines.popleft()
        return line or usual

    def linger(self, record: int, until_line: str) -> None:
        """Show pages the record that was signed, until a line comes."""
        self.record, self.state = record, State.SIGNED
        self.say(until_line)
        while not any(line.text is not None for line in self._lines):
            self._turn(TURN_S)
            self._asked()

    def say(self, text: str) -> None:
        """Print a line, or several of our own."""
        print(printable(text) if "\n" not in text else text, file=self._out, flush=True)

    def _terminal(self) -> Ended | None:
        """Take one typed line, if an answer would be taken now."""
        if not self._lines:
            return None
        if self.pages and self._lines[0].text is None:
            self._lines.popleft()  # The phone is still there.
            return None
        if not (self.commission.waits or self._lines[0].text == "stop"):
            return None
        came_us, line = self._lines.popleft()
        self.tell()
        if line is None or line == "stop":
            self._keep(self.commission.evidence)
            return Ended.STOPPED
        if self.pages and self.pages.was_first(came_us) and not is_no_answer(line):
            self.say("too late: the phone was first")
        elif self.state is State.RESTING:
            self._at_rest(line)
        elif self.commission.complete and not line:
            return Ended.THROUGH
        else:
            self._take(line)
        return None

    def rest(self) -> None:
        """Stop for now: all is safe, and nothing counts until it goes on."""
        self._keep(self.commission.evidence)
        self.state = State.RESTING
        self._board.safe()
        self.say('Stopped for now; all that was seen is kept. "go on", or "stop" to end.')

    def go_on(self) -> None:
        """Go on after a rest."""
        self.state = State.ASKING
        self.commission.prepare(_now_us())

    def _asked(self) -> Ended | None:
        """Take what pages ask."""
        return None if self.pages is None else self.pages.serve(self)

    def _at_rest(self, line: str) -> None:
        if line == "go on":
            self.go_on()
        else:
            self.say('it is stopped for now: "go on", or "stop" to end')

    def _turn(self, seconds: float) -> None:
        """Take what came, waiting for the first of it at most so long; then show what is so."""
        wait: float | None = seconds
        while True:
            try:
                came = self._came.get(timeout=wait) if wait else self._came.get_nowait()
            except Empty:
                break
            wait = None
            if isinstance(came, Line):
                self._lines.append(came)
            else:
                self.commission.edge(*came)
        if self.pages is not None:
            self.pages.show(self)

    def _read(self, lines: TextIO) -> None:
        for line in lines:
            self._came.put(Line(_now_us(), line.strip()))
        self._came.put(Line(_now_us(), None))

    def tell(self) -> None:
        """Print a new instruction, drive what it asks for, and keep what led to it."""
        asked = self.commission.instruction
        if asked.number == self._told:
            return
        self._told = asked.number
        if self.pages is not None:
            self.pages.told(_now_us())
        show_only(self._board, asked.drive)
        self._keep(self.commission.evidence)
        if asked.remark:
            self.say(f"    {asked.remark}")
        again = "Once more: " if asked.again else ""
        self.say(f"[{asked.done}/{asked.of}] {again}{asked.text}")
        if asked.step is Step.FINISHED:
            for line in finding_lines(self.commission.findings()):
                self.say(line)
            self.say('Mend, and "repeat STAND"; or Enter to write the record, or "stop".')

    def _take(self, line: str) -> None:
        """Do what a line says."""
        asked, now_us = self.commission.instruction, _now_us()
        word, _, rest = line.partition(" ")
        match word:
            case "help":
                self.say(HELP + (f"\n{HELP_HANDS}" if self._hands else ""))
            case "stands":
                self.say("\n".join(f"  {stand}" for stand in self.commission.wires.stands))
            case "skip":
                self.commission.answer(Answer(asked.number, Said.SKIP), now_us)
            case "end":
                self.commission.end(now_us)
            case "repeat":
                again = self.commission.repeat(rest.strip(), now_us)
                self.say(f"again: {', '.join(again)}" if again else f"no stand or thing {rest!r}")
            case "do" | "make" | "break":
                why = self.do(word, rest.strip(), asked)
                if why is not None:
                    self.say(why)
            case _:
                self._answer(line, asked, now_us)

    def do(self, word: str, name: str, asked: Instruction) -> str | None:
        """Have simulated hands do something; or say why they can't."""
        if self._hands is None:
            return "these contacts are real: move them by hand"
        try:
            if word == "do":
                self._hands.obey(asked)
            else:
                self._hands.move(name, made=word == "make")
        except HandError as error:
            return str(error)
        if word == "do" and asked.step in MOVES:
            # The edges come first, as they would if the hands were real.
            self._turn(0)
            self.commission.answer(Answer(asked.number, Said.DONE), _now_us())
        return None

    def _answer(self, line: str, asked: Instruction, now_us: int) -> None:
        if asked.step in MOVES and not line:
            self.commission.answer(Answer(asked.number, Said.DONE), now_us)
            return
        if asked.step in LOOKS and asked.about is None and line in ("y", "yes"):
            self.say("then give the names of all that are on, such as: red of kiln-switch")
        seen = None
        if asked.step in LOOKS:
            seen = seen_in(line, asked.about, self.commission.wires.outputs)
        if seen is None:
            self.say(f'{line!r} is no answer to this; "help" tells what is')
            return
        self.commission.answer(Answer(asked.number, Said.SEEN, seen), now_us)


def _now_us() -> int:
    return time.monotonic_ns() // 1000

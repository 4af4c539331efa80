"""Numbered marks along a line of time: where they would lie on each other, one stands for all."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from firmware_py.logbook.records import ViolationRecord
from web.debrief.drawing import joined, tag, text, titled
from web.debrief.times import clock

APART = 22.0
DASH = "\N{EN DASH}"


@dataclass(frozen=True, slots=True)
class Mark:
    """One mark, for one violation or for several so near each other that they share it."""

    x: float
    numbers: tuple[int, ...]

    @property
    def label(self) -> str:
        """The number, or the first and the last.

        >>> Mark(0, (4,)).label, Mark(0, (4, 7)).label
        ('4', '4…7')
        """
        first, last = self.numbers[0], self.numbers[-1]
        if first == last:
            return str(first)
        together = len(self.numbers) == last - first + 1
        return f"{first}{DASH if together else '…'}{last}"


def placed(moments: Iterable[tuple[float, int]], apart: float = APART) -> list[Mark]:
    """Marks for (place, number) in order; those less than ``apart`` from the first share one."""
    marks: list[Mark] = []
    for x, number in moments:
        if marks and x - marks[-1].x < apart + 7 * (len(marks[-1].label) - 1):
            marks[-1] = Mark(marks[-1].x, (*marks[-1].numbers, number))
        else:
            marks.append(Mark(x, (number,)))
    return marks


def drawn_marks(
    violations: Sequence[ViolationRecord],
    x_of: Callable[[int], float],
    y: float,
    says: Callable[[ViolationRecord], str],
) -> Markup:
    """The marks of violations, centred on ``y``; ``x_of`` gives the place of a session time."""
    of = {one.number: one for one in violations}
    ordered = sorted(violations, key=lambda one: (one.t_us, one.number))
    marks = placed((x_of(one.t_us), one.number) for one in ordered)
    return joined(
        _drawn(mark, y, [_words(of[number], says) for number in mark.numbers]) for mark in marks
    )


def _words(violation: ViolationRecord, says: Callable[[ViolationRecord], str]) -> str:
    return f"{violation.number}. {clock(violation.t_us)} {says(violation)}"


def _drawn(mark: Mark, y: float, words: Sequence[str]) -> Markup:
    width = 14 + 6.5 * len(mark.label)
    shape = tag(
        "rect", x=mark.x - 9, y=y - 8, width=width, height=16, rx=8, class_="violation-mark"
    )
    number = text(mark.x - 9 + width / 2, y + 4, mark.label, "violation-number", "middle")
    stem = tag("line", x1=mark.x, y1=y + 8, x2=mark.x, y2=y + 15, class_="violation-stem")
    return titled("\n".join(words), stem, shape, number)

"""Reads a layout file: every mistake is found, placed on its line, and none is forgiven."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from firmware_py.layout.chips import judge_chips, judge_kept, read_chip, read_wiring
from firmware_py.layout.errors import LayoutError, Problem, Problems, shown
from firmware_py.layout.lines import lines_of
from firmware_py.layout.model import ForemanKind, Kind, Layout, Protection, Times
from firmware_py.layout.node import Node
from firmware_py.layout.node_table import read_node
from firmware_py.layout.orders import judge_order, with_orders
from firmware_py.layout.references import Declared, declared_in, judge_reference, judge_trap
from firmware_py.layout.scales import DEFAULT, RATIOS, nearest
from firmware_py.layout.tables import Span, Table
from firmware_py.layout.things import (
    PERCENT,
    read_chock,
    read_derail,
    read_flag,
    read_gate,
    read_key,
    read_spur,
    read_switch,
    read_trap,
)
from firmware_py.layout.wires import SETTLE, Wires, micros
from firmware_py.layout.workable import unworkable

REACHED = (Kind.GATE, Kind.DERAIL, Kind.FLAG, Kind.CHOCK, Kind.KEY)
"""What hands may have to reach through a gate."""

LARGEST_FILE = 4 * 1024 * 1024
"""Bytes; a thousand switches with everything fitted stay far below."""

RATIO = Span("how many times larger the full size is", above=0.0, high=10_000.0)
WAITS = Span("a multiple of the layout's own waits", low=0.05, high=1000.0)
CLOCK = Span("layout minutes for each real minute", low=0.01, high=10_000.0)
PERIOD = Span("seconds", low=0.0, high=1e9)

_TOML_LINE = re.compile(r" *\(at (?:line (\d+), column \d+|end of document)\)$")

Thing = TypeVar("Thing")


def read_layout(path: Path) -> Layout:
    """The layout in a file.

    Raises `LayoutError`, with every problem and its line, for a file that can't be read, is not
    UTF-8 or not TOML, or does not say what a layout must say.
    """
    file = str(path)
    try:
        with path.open("rb") as stream:
            data = stream.read(LARGEST_FILE + 1)
    except FileNotFoundError:
        raise _failure(
            file, None, "there is no such file; give the path of a layout file"
        ) from None
    except IsADirectoryError:
        raise _failure(file, None, "this is a folder; give the layout file inside it") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise _failure(file, None, f"the file can't be read: {reason}") from None
    if len(data) > LARGEST_FILE:
        size = f"{LARGEST_FILE // 1024 // 1024} MiB"
        raise _failure(file, None, f"the file is larger than {size}; a layout file is short text")
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        what = f"byte 0x{data[error.start]:02x} is not UTF-8; save the file as UTF-8 text"
        raise _failure(file, line, what) from None
    return parse_layout(text, file)


def parse_layout(text: str, file: str) -> Layout:
    """The layout in a text; ``file`` is the name that messages give it. Raises `LayoutError`."""
    document = _toml(text, file)
    problems = Problems(file, lines_of(text))
    layout = _Reader(document, problems).layout()
    problems.raise_any()
    return with_orders(layout)


def _toml(text: str, file: str) -> dict[str, object]:
    if text.startswith("\ufeff"):
        raise _failure(file, 1, "the file begins with a byte order mark; save it as UTF-8 without")
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise _failure(file, None, "lists or tables are nested too deeply to be a layout") from None
    except ValueError as error:
        raise _not_toml(str(error), text, file) from None


def _not_toml(message: str, text: str, file: str) -> LayoutError:
    place = _TOML_LINE.search(message)
    if place is None:
        return _failure(file, None, "this is not TOML: a number in it has too many digits")
    line = int(place[1]) if place[1] else text.count("\n") + 1
    return _failure(file, line, f"this is not TOML: {message[: place.start()]}")


def _failure(file: str, line: int | None, what: str) -> LayoutError:
    return LayoutError([Problem(file, line, what)])


class _Reader:
    """Turns one document into a layout, noting every problem on the way."""

    def __init__(self, document: dict[str, object], problems: Problems) -> None:
        self.problems = problems
        self.top = Table(problems, (), document, "")
        self.ids = declared_in(document, problems)
        self.tables: dict[Kind, list[Table]] = {kind: self._tables(kind.value) for kind in Kind}
        self.chips = self._tables("chip")

    def layout(self) -> Layout:
        heading = self.top.table("layout", '{ name = "Quarry Landing" }')
        heading.label = "[layout]"
        scale, ratio = _scale(heading)
        times = self._times()
        wires = Wires(times)
        electrics = self.top.table("wiring", '{ pi = "4" }')
        electrics.label = "[wiring]"
        layout = Layout(
            name=heading.text("name") or "Layout",
            ratio=ratio,
            scale=scale,
            chock_from_percent=heading.number("chock_from_percent", 0.5, PERCENT),
            clock_ratio=heading.number("clock_ratio", 6.0, CLOCK),
            times=times,
            switches=self._read(Kind.SWITCH, read_switch, wires),
            spurs=self._read(Kind.SPUR, read_spur, wires),
            gates=self._read(Kind.GATE, read_gate, wires),
            derails=self._read(Kind.DERAIL, read_derail, wires),
            flags=self._read(Kind.FLAG, read_flag, wires),
            chocks=self._read(Kind.CHOCK, read_chock, wires),
            keys=self._read(Kind.KEY, read_key, wires),
            traps=self._read(Kind.TRAP, read_trap, wires),
            chips=tuple(read_chip(table) for table in self.chips),
            wiring=read_wiring(electrics),
            wait_scale=heading.number("wait_scale", 1.0, WAITS),
            node=self._node(),
        )
        heading.finish()
        self.top.finish()
        wires.note_repeats(self.top)
        judge_chips(self.chips, layout.chips, wires, self.problems)
        judge_kept(electrics, layout.wiring, wires)
        self._judge(layout)
        return layout

    def _times(self) -> Times:
        table = self.top.table("times", "{ settle = 0.02 }")
        table.label = "[times]"

        def period(key: str, default_us: int, span: Span = PERIOD) -> int:
            return micros(table.number(key, default_us / 1e6, span))

        usual = Times()
        times = Times(
            settle_us=period("settle", usual.settle_us, SETTLE),
            clear_after_us=period("clear_after", usual.clear_after_us),
            throw_us=period("throw", usual.throw_us),
            restore_within_us=period("restore_within", usual.restore_within_us),
            relock_within_us=period("relock_within", usual.relock_within_us),
            return_within_us=period("return_within", usual.return_within_us),
            repeat_within_us=period("repeat_within", usual.repeat_within_us),
        )
        table.finish()
        return times

    def _node(self) -> Node | None:
        if self.top.value("node") is None:
            return None
        table = self.top.table("node", '{ name = "west-room" }')
        table.label = "[node]"
        return read_node(table)

    def _tables(self, kind: str) -> list[Table]:
        value = self.top.value(kind)
        if value is None:
            return []
        if not isinstance(value, list) or not all(isinstance(part, dict) for part in value):
            self.top.wrong(kind, f"write [[{kind}]] with two brackets for each {kind}")
            return []
        return [
            Table(self.problems, (kind, index), dict(part), _label(kind, index, part))
            for index, part in enumerate(value)
        ]

    def _read(
        self, kind: Kind, read: Callable[[Table, Wires], Thing], wires: Wires
    ) -> tuple[Thing, ...]:
        return tuple(read(table, wires) for table in self.tables[kind])

    def _judge(self, layout: Layout) -> None:
        if not self.tables[Kind.SWITCH] and not self.problems.found:
            self.top.wrong(None, "there is no switch; a layout needs at least one [[switch]] table")
        for kind, key, named in (
            (Kind.SWITCH, "key", Kind.KEY),
            (Kind.SPUR, "switch", Kind.SWITCH),
            (Kind.GATE, "spur", Kind.SPUR),
            (Kind.GATE, "key", Kind.KEY),
            (Kind.DERAIL, "spur", Kind.SPUR),
            (Kind.FLAG, "spur", Kind.SPUR),
            (Kind.CHOCK, "spur", Kind.SPUR),
            *((kind, "behind", Kind.GATE) for kind in REACHED),
        ):
            for table in self.tables[kind]:
                judge_reference(table, key, named, self.ids)
        for table in self.tables[Kind.TRAP]:
            judge_trap(table, self.ids)
        if self._whole(layout):
            for spur, table in zip(layout.spurs, self.tables[Kind.SPUR], strict=True):
                if table.value("foreman") in (None, *ForemanKind):
                    judge_order(layout, spur, table, "opening")
                    judge_order(layout, spur, table, "closing")
        if not self.problems.found:
            self._judge_work(with_orders(layout))

    def _judge_work(self, layout: Layout) -> None:
        """Note what can't be worked; nothing else is wrong with the file."""
        tables = {table.value("id"): table for kind in self.tables.values() for table in kind}
        for found in unworkable(layout):
            table = tables[found.thing]
            given = table.value(found.key) is not None
            table.wrong(found.key if given else None, f"{found.key} can't be worked: {found.why}")

    def _whole(self, layout: Layout) -> bool:
        """Whether it is known which protections each spur has.

        Where it is not, judging the orders would blame them for a mistake made elsewhere.
        """
        declared = list(self.ids.values())
        protections: tuple[Protection, ...] = (
            *layout.gates,
            *layout.derails,
            *layout.flags,
            *layout.chocks,
        )
        spurs = {spur.id for spur in layout.spurs}
        every = [thing.id for thing in layout.things]
        return (
            all(thing.kind is not None for thing in declared)
            and len(set(every)) == len(every) == len(declared)
            and all(thing.spur in spurs for thing in protections)
            and all(_is(self.ids, spur.switch, Kind.SWITCH) for spur in layout.spurs)
        )


def _is(ids: dict[str, Declared], name: str, kind: Kind) -> bool:
    return name in ids and ids[name].kind is kind


def _label(kind: str, index: int, values: dict[str, object]) -> str:
    thing = values.get("id")
    named = isinstance(thing, str) and thing
    return f"{kind} {shown(thing)}" if named else f"{kind} number {index + 1}"


def _scale(heading: Table) -> tuple[str | None, float]:
    scale = heading.text("scale")
    given = heading.value("ratio") is not None
    ratio = heading.number("ratio", RATIOS[DEFAULT], RATIO)
    if scale is None:
        return (None if given else DEFAULT), ratio
    if scale not in RATIOS:
        close = nearest(scale)
        meant = f'did you mean "{close}"?' if close else f"known are {', '.join(RATIOS)}"
        right = f"{meant} (any other: leave scale out and write ratio = 87.1, say)"
        heading.wrong("scale", f"there is no scale {shown(scale)}; {right}")
        return None, ratio
    if given:
        heading.wrong("ratio", "scale and ratio are both given; keep one of them")
    return scale, RATIOS[scale]

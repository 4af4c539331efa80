"""Jobs as a TOML text that people write and read: ``[[job]]`` tables with ``[[job.stop]]`` inside.

What is read is all sound or refused with its line, key and what would be right; what is written
reads back to the same jobs.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Sequence
from typing import Any, Literal, cast

import tomlkit
from tomlkit.items import AoT, Array, InlineTable
from tomlkit.items import Table as Written

from firmware_py.layout.errors import Problem, Problems, printable, shown
from firmware_py.layout.lines import Path, lines_of
from firmware_py.layout.model import Layout
from firmware_py.layout.tables import Table
from firmware_py.logbook.screen.job_checks import ill_formed, strangers, tidy
from firmware_py.logbook.screen.jobs import Car, Job, JobStop

LARGEST_FILE = 1024 * 1024
MOST_SHOWN = 20

_TOML_LINE = re.compile(r" *\(at (?:line (\d+), column \d+|end of document)\)$")
_HEADING = (
    "Jobs for Spurlock. Import them on the Jobs page, or with: spurlock jobs LOGBOOK --import FILE"
)
_EXAMPLE = '[[job]] with name = "Milk run" and a [[job.stop]]'


class JobFileError(ValueError):
    """A text that is no sound list of jobs; ``problems`` holds at least one, in file order."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(sorted(problems, key=lambda one: (one.line is None, one.line or 0)))
        super().__init__("\n".join(str(one) for one in self.problems[:MOST_SHOWN]))

    @classmethod
    def of(cls, file: str, line: int | None, what: str) -> JobFileError:
        """The error of one problem."""
        return cls([Problem(file, line, what)])

    def lines(self) -> list[str]:
        """The problems without the file's name, for a page that has only the text."""
        return [
            printable(one.what if one.line is None else f"line {one.line}: {one.what}")
            for one in self.problems[:MOST_SHOWN]
        ]


def read_jobs(text: str, file: str, layout: Layout) -> list[Job]:
    """The jobs in a text, for this layout; ``file`` is the name that messages give the text.

    Raises :class:`JobFileError`.
    """
    text = text.removeprefix("\ufeff")
    document = _toml(text, file)
    problems = Problems(file, lines_of(text))
    whole = Table(problems, (), document, "")
    tables = _tables(whole, "job", _EXAMPLE)
    jobs = [_job(table) for table in tables]
    whole.finish()
    if not tables and not problems.found:
        problems.add((), f"there is no job in this text; write {_EXAMPLE}")
    if not problems.found:
        for at, job in enumerate(jobs):
            label = _label(at, job.name)
            for wrong in (*ill_formed(job), *strangers(job, layout)):
                problems.add(("job", at, *wrong.path), f"{label}: {wrong.what}")
    if problems.found:
        raise JobFileError(problems.found)
    return jobs


def write_jobs(jobs: Sequence[Job]) -> str:
    """The text of some jobs; what is blank or 0 is left out."""
    document = tomlkit.document()
    document.add(tomlkit.comment(_HEADING))
    if jobs:
        tables = tomlkit.aot()
        for job in jobs:
            tables.append(_written(job))
        document.add(tomlkit.nl())
        document.add("job", tables)
    return tomlkit.dumps(document)


def _toml(text: str, file: str) -> dict[str, object]:
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise JobFileError.of(
            file, None, "lists or tables are nested too deeply to be jobs"
        ) from None
    except ValueError as error:
        message = str(error)
        place = _TOML_LINE.search(message)
        if place is None:
            what = "this is not TOML: a number in it has too many digits"
            raise JobFileError.of(file, None, what) from None
        line = int(place[1]) if place[1] else text.count("\n") + 1
        raise JobFileError.of(file, line, f"this is not TOML: {message[: place.start()]}") from None


def _label(at: int, name: str) -> str:
    return f"job {at + 1} {shown(name)}" if name else f"job {at + 1}"


def _tables(table: Table, key: str, example: str) -> list[Table]:
    """The tables of an array of them, such as ``[[job]]``."""
    value = table.value(key)
    if value is None:
        return []
    if not isinstance(value, list) or not all(isinstance(one, dict) for one in value):
        table.wrong(key, f"{key} must be written as {example}, not as {shown(value)}")
        return []
    return [
        Table(table.problems, (*table.path, key, at), one, _table_label(table, key, at, one))
        for at, one in enumerate(value)
    ]


def _table_label(table: Table, key: str, at: int, values: dict[str, object]) -> str:
    if key == "stop":
        return f"{table.label}: stop {at + 1}"
    name = values.get("name")
    return _label(at, name if isinstance(name, str) else "")


def _job(table: Table) -> Job:
    job = Job(
        name=_needed(table, "name", '"Milk run"'),
        crew=_text(table, "crew"),
        cars=_count(table, "cars"),
        rear=cast("Literal['', 'marker', 'caboose']", _text(table, "rear")),
        keys=table.texts("keys") or (),
        stops=tuple(_stop(one) for one in _tables(table, "stop", "[[job.stop]] with a spur")),
    )
    table.finish()
    return tidy(job)


def _stop(table: Table) -> JobStop:
    stop = JobStop(
        spur=_needed(table, "spur", '"the id of one of the layout\'s spurs"'),
        pull=_cars(table, "pull"),
        spot=_cars(table, "spot"),
        note=_text(table, "note"),
    )
    table.finish()
    return stop


def _needed(table: Table, key: str, example: str) -> str:
    text = _text(table, key)
    if table.value(key) in {None, ""}:
        table.missing(key, f"; write {key} = {example}")
    return text


def _text(table: Table, key: str) -> str:
    value = table.value(key)
    if value is None or isinstance(value, str):
        return value or ""
    table.wrong(key, f"{key} must be a text in quotes, not {shown(value)}")
    return ""


def _count(table: Table, key: str) -> int:
    value = table.value(key)
    if value is None:
        return 0
    if isinstance(value, int) and not isinstance(value, bool):
        return value
    table.wrong(key, f"{key} must be a whole number such as 6, not {shown(value)}")
    return 0


def _cars(table: Table, key: str) -> tuple[Car, ...]:
    value = table.value(key)
    if value is None:
        return ()
    if not isinstance(value, list):
        example = 'a list such as ["box car", {car = "flat car", place = "at the crane"}]'
        table.wrong(key, f"{key} must be {example}, not {shown(value)}")
        return ()
    return tuple(_car(table, key, at, one) for at, one in enumerate(value))


def _car(table: Table, key: str, at: int, value: object) -> Car:
    path: Path = (*table.path, key, at)
    label = f"{table.label}: {key}: car {at + 1}"
    if isinstance(value, str):
        return Car(value)
    if not isinstance(value, dict):
        what = 'must be a text in quotes, or {car = "flat car", place = "at the crane"}'
        table.problems.add(path, f"{label} {what}, not {shown(value)}")
        return Car("")
    inside = Table(table.problems, path, value, label)
    car = Car(_needed(inside, "car", '"flat car"'), _text(inside, "place"))
    inside.finish()
    return car


def _written(job: Job) -> Written:
    table = tomlkit.table()
    table.add("name", job.name)
    for key, value in (("crew", job.crew), ("cars", job.cars), ("rear", job.rear)):
        if value:
            table.add(key, value)
    if job.keys:
        table.add("keys", _array(job.keys))
    if job.stops:
        stops: AoT = tomlkit.aot()
        for stop in job.stops:
            stops.append(_written_stop(stop))
        table.add("stop", stops)
    return table


def _written_stop(stop: JobStop) -> Written:
    table = tomlkit.table()
    table.add("spur", stop.spur)
    for key, cars in (("pull", stop.pull), ("spot", stop.spot)):
        if cars:
            table.add(key, _array([_written_car(car) for car in cars], lines=len(cars) > 1))
    if stop.note:
        table.add("note", tomlkit.string(stop.note, multiline="\n" in stop.note))
    return table


def _written_car(car: Car) -> str | InlineTable:
    if not car.place:
        return car.car
    table = tomlkit.inline_table()
    table.update({"car": car.car, "place": car.place})
    return table


def _array(values: Iterable[Any], *, lines: bool = False) -> Array:
    array = tomlkit.array()
    array.extend(values)
    return array.multiline(lines)

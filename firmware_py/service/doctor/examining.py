"""The whole examination, from the pins to the backups."""

from __future__ import annotations

from firmware_py.layout.errors import LayoutError
from firmware_py.layout.node import Node
from firmware_py.layout.reading import read_layout
from firmware_py.service.doctor import club, machine, pi, processes
from firmware_py.service.doctor import logbook as book
from firmware_py.service.doctor.findings import Case, Finding, State
from firmware_py.service.doctor.pi_facts import read_facts

WELL, NEEDS_CARE, UNREADABLE = 0, 1, 2
"""Exit statuses."""


def examine(case: Case, ask: machine.Ask = machine.ask_machine) -> list[Finding]:
    """Look at every part; none of it is changed."""
    engine, record = processes.engine(case)
    log, read = book.logbook(case)
    node = node_of(case)
    return [
        processes.pins(case, record),
        engine,
        processes.screen(case),
        *(club.box(case, node, case.layout.parent) if node and case.layout else ()),
        log,
        machine.disk(case),
        book.backups(case),
        machine.heat(case),
        machine.supply(case, ask),
        machine.clock(case, read.newest_wall_us if read else None),
        *pi.judge(read_facts(case)),
    ]


def node_of(case: Case) -> Node | None:
    """By which name the box takes part in a club; ``None`` if it does not, or nobody can tell."""
    try:
        return read_layout(case.layout).node if case.layout else None
    except LayoutError:
        return None


def status(findings: list[Finding]) -> int:
    """The exit status: what is worst."""
    states = {finding.state for finding in findings}
    if State.UNREADABLE in states:
        return UNREADABLE
    return NEEDS_CARE if State.CARE in states else WELL


def lines(findings: list[Finding]) -> list[str]:
    """The findings as lines of text."""
    said = []
    for finding in findings:
        said.append(f"{finding.part:<8} {finding.state:<10} {finding.says}")
        if finding.do:
            said.append(f"{'':<19} do: {finding.do}")
    return said

"""What a commissioning came to, in words for its record."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from textwrap import wrap

from firmware_py.commissioning.commission import Commission
from firmware_py.commissioning.evidence import bursts_of
from firmware_py.commissioning.model import Finding

WIDTH = 79


def results(commission: Commission) -> str:
    """How many wires were tested and what was found; then a line for each wire."""
    findings = commission.findings()
    evidence, wires = commission.evidence, commission.wires
    every = (*wires.contacts, *wires.outputs)
    tested = [name for name in every if name in evidence.tested]
    wrong = {name: one for one in findings for name in one.names}
    head = f"{len(tested)} of {len(every)} wires tested, {_count(len(findings), 'fault')} found."
    rows = [
        f"{name}: {_result(commission, name, name in tested, wrong.get(name))}" for name in every
    ]
    return "\n".join((head, *rows))


def repairs(commission: Commission) -> str:
    """What was found earlier and is found no more; empty where nothing was."""
    now = {one.text for one in commission.findings()}
    mended = [text for text in commission.evidence.found if text not in now]
    return "\n".join(f"mended: {text}" for text in mended)


def condition(commission: Commission) -> str:
    """In what condition the wires are left, unless the builder has something else to say."""
    findings = commission.findings()
    untested = len(commission.evidence.skipped)
    if findings:
        return f"not in order: {_count(len(findings), 'fault')} left"
    return f"in order, but {_count(untested, 'wire')} not tested" if untested else "in order"


def finding_lines(findings: Sequence[Finding]) -> Iterator[str]:
    """Findings with what to do, for a terminal."""
    if not findings:
        yield "No fault was found."
    for one in findings:
        yield from _wrapped(f"  {one.kind.upper()}: ", one.text)
        yield from _wrapped("    ", one.do)


def record_lines(title: str, fields: Sequence[tuple[str, str]]) -> Iterator[str]:
    """A record to print: a title, and each field with its heading, long ones below it."""
    yield title
    yield "=" * min(len(title), WIDTH)
    for heading, text in fields:
        lines = text.splitlines() or ["none"]
        yield from _wrapped(f"{heading + ':':<16} ", lines[0])
        for line in lines[1:]:
            yield from _wrapped(" " * 17, line)
    yield ""
    yield "Signature: ______________________________"
    yield ""
    yield from _wrapped("", "A scale layout only, low voltage; never a real railway.")


def _result(commission: Commission, name: str, tested: bool, wrong: Finding | None) -> str:
    if wrong is not None:
        return wrong.kind
    if not tested:
        return "not tested"
    us = [burst.us for burst in bursts_of(commission.evidence, name, (name,))]
    return f"right, bounce at most {max(us) / 1000:.1f} ms" if us else "right"


def _count(count: int, one: str) -> str:
    return f"{count} {one}" if count == 1 else f"{count} {one}s"


def _wrapped(head: str, text: str) -> list[str]:
    return wrap(
        text,
        WIDTH,
        initial_indent=head,
        subsequent_indent=" " * min(len(head), 17),
        break_long_words=False,
        break_on_hyphens=False,
    )

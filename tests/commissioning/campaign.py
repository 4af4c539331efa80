"""Running fault sets, one after the other, and counting."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

import firmware_py
from firmware_py.commissioning.model import Finding
from firmware_py.commissioning.wires import wires_of
from firmware_py.layout.model import Layout
from firmware_py.layout.reading import read_layout

from .bench import Bench
from .checking import as_done, as_named, complaint
from .faults import Wrong, at_random, singles

DEMO = Path(firmware_py.__file__).parent / "demo" / "layouts" / "wendlebeck.toml"


@dataclass
class Figures:
    """What a campaign came to. ``literal`` counts sets that were named just as they were done."""

    sets: int = 0
    faults: int = 0
    literal: int = 0
    instructions: int = 0
    wrong: list[str] = field(default_factory=list)


def demo() -> Layout:
    """The demo's valley."""
    return read_layout(DEMO)


def commissioned(layout: Layout, wrong: list[Wrong], seed: int) -> tuple[Finding, ...]:
    """What is found on a layout with these faults."""
    bench = Bench(layout, wrong, seed)
    try:
        return bench.run()
    finally:
        bench.close()


def judged(layout: Layout, wrong: list[Wrong], seed: int, figures: Figures) -> str | None:
    """Run a fault set and judge what was found."""
    bench = Bench(layout, wrong, seed)
    try:
        findings = bench.run()
        figures.instructions += bench.commission.instruction.number
        wires = bench.wires
    finally:
        bench.close()
    contacts = {name: wire.inverted for name, wire in wires.contacts.items()}
    outputs = dict.fromkeys(wires.outputs, False)
    said = complaint(wrong, findings, contacts, outputs, wires.apart)
    figures.sets += 1
    figures.faults += len(wrong)
    figures.literal += as_done(wrong) == as_named(findings)
    if said is None:
        return None
    named = "; ".join(one.text for one in findings) or "nothing"
    return f"seed {seed}: {', '.join(map(str, wrong))}: {said}; named: {named}"


def random_sets(seeds: Iterable[int], layout: Layout) -> Iterable[tuple[int, list[Wrong]]]:
    """Fault sets at random, one for each seed."""
    contacts, outputs = names_of(layout)
    for seed in seeds:
        yield seed, at_random(Random(seed), contacts, outputs)


def single_faults(layout: Layout) -> list[Wrong]:
    """Every single fault on a layout."""
    return singles(*names_of(layout))


def names_of(layout: Layout) -> tuple[list[str], list[str]]:
    """The names of all contacts, and of all outputs."""
    wires = wires_of(layout)
    return list(wires.contacts), list(wires.outputs)


def campaign(
    sets: Iterable[tuple[int, list[Wrong]]],
    layout: Layout,
    told: Callable[[Figures], None] = lambda _: None,
) -> Figures:
    """Run many fault sets; ``told`` hears after each."""
    figures = Figures()
    for seed, wrong in sets:
        said = judged(layout, wrong, seed, figures)
        if said is not None:
            figures.wrong.append(said)
        told(figures)
    return figures

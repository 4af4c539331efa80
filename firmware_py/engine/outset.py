"""How things stand as a session begins, in the shape that the logbook keeps (see its schema)."""

from __future__ import annotations

from collections import defaultdict

from firmware_py.core.core import Core

Outset = dict[str, object]


def outset_of(core: Core) -> Outset:
    """The outset of a core that has just begun."""
    outputs: dict[str, dict[str, str]] = defaultdict(dict)
    for (of, output), shows in core.outputs().items():
        outputs[of][output] = shows.value
    return {
        "stages": {switch: stage.value for switch, stage in core.stages().items()},
        "phases": {spur: [phase.value, step] for spur, (phase, step) in core.phases().items()},
        "foremen": {spur: says.value for spur, says in core.foremen().items()},
        "outputs": dict(outputs),
        "faults": [[fault.value, at] for fault, at in core.faults()],
    }

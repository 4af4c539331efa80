"""One fault seeded into the core of a process of its own, and what the prover finds then."""

from __future__ import annotations

import importlib.abc
import importlib.machinery
import io
import json
import subprocess
import sys
from pathlib import Path
from typing import Any

from tests.proof.seeded_faults import FAULTS, Fault

CORE = "firmware_py.core."


class _Seeder(importlib.abc.MetaPathFinder):
    """Hands out one module of the core with a fault in it."""

    def __init__(self, fault: Fault) -> None:
        self.fault = fault

    def find_spec(self, name: str, path: Any = None, target: Any = None) -> Any:  # noqa: ANN401
        if name != CORE + self.fault.file:
            return None
        spec = importlib.machinery.PathFinder.find_spec(name, path)
        assert spec is not None
        assert isinstance(spec.loader, importlib.machinery.SourceFileLoader)
        text = Path(spec.loader.path).read_text(encoding="utf-8")
        assert self.fault.right in text, f"{self.fault.name} is not where it was"
        wrong = text.replace(self.fault.right, self.fault.wrong)
        spec.loader.get_data = lambda path: wrong.encode()  # type: ignore[method-assign]
        spec.loader.path_stats = _no_cache  # type: ignore[method-assign]
        return spec


def _no_cache(path: str) -> dict[str, int]:
    raise OSError(path)


def found_with(name: str) -> dict[str, object]:
    """What the prover finds with a fault seeded: properties, words, and lines of the tape."""
    command = [sys.executable, "-m", "tests.proof.seeding", name]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode:
        return {"error": done.stderr.strip().splitlines()[-1:]}
    found: dict[str, object] = json.loads(done.stdout)
    fault = next(it for it in FAULTS if it.name == name)
    found["shown"] = [_played(fault.layout, tape) != out for tape, out in found.pop("plays")]  # type: ignore[attr-defined]
    return found


def silence_with(name: str) -> list[str]:
    """How the core with a fault seeded differs from what the solver says must not be silent."""
    command = [sys.executable, "-m", "tests.proof.seeding", name, "silence"]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    found: list[str] = json.loads(done.stdout)
    return found


def _played(name: str, tape: list[dict[str, object]]) -> list[str]:
    """What replaying a tape prints; a core that fails prints its failure last."""
    from firmware_py.tape.lines import text_of  # noqa: PLC0415 - after the seeding
    from firmware_py.tape.reading import TapeReader  # noqa: PLC0415
    from firmware_py.tape.replay import Player  # noqa: PLC0415
    from tests.proof.proof_layouts import layout_of  # noqa: PLC0415

    layout = layout_of(name)
    text = "".join(json.dumps(row) + "\n" for row in tape)
    player = Player(layout)
    out: list[str] = []
    try:
        for line in TapeReader(layout, io.BytesIO(text.encode()), "found.jsonl"):
            out += [text_of(entry) for entry in player.play(line)]
        out += [text_of(entry) for entry in player.finish()]
        assert player.core is not None
        out += [f"{of} {shows}" for of, shows in player.core.outputs().items()]
    except (LookupError, StopIteration) as error:
        out.append(repr(error))
    return out


def main(name: str, *what: str) -> None:
    """Seed a fault and print what is found, by the prover or (``silence``) by the solver."""
    fault = next(it for it in FAULTS if it.name == name)
    sys.meta_path.insert(0, _Seeder(fault))
    if what == ("silence",):
        _beside_the_solver()
    else:
        _prove(fault)


def _beside_the_solver() -> None:
    from tests.proof.proof_layouts import ENCODED_ALONE  # noqa: PLC0415 - after the seeding
    from tests.proof.silence_found import Beside, found_in  # noqa: PLC0415

    print(json.dumps(list(Beside(found_in(ENCODED_ALONE)).differences())))


def _prove(fault: Fault) -> None:
    """Prove, play each tape on the seeded core, and print what was found."""
    from firmware_py.proof.proving import prove_fragment  # noqa: PLC0415
    from tests.proof.proof_layouts import layout_of  # noqa: PLC0415

    proof = prove_fragment(layout_of(fault.layout))
    print(
        json.dumps(
            {
                "numbers": sorted({it.number for it in proof.refuted}),
                "way": proof.way and list(proof.way.moves),
                "what": [it.what for it in proof.refuted],
                "tapes": [list(it.tape) for it in proof.refuted if it.tape],
                "plays": [
                    (it.tape, _played(fault.layout, list(it.tape)))
                    for it in proof.refuted
                    if it.tape
                ],
            }
        )
    )


if __name__ == "__main__":
    main(*sys.argv[1:])

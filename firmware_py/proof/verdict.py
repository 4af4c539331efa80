"""What came of the last proof of a layout, kept beside its logbook.

A proof takes longer than lamps may take to be lit, so ``run`` reads a verdict and makes none.
It counts only for the very layout and the very code that it was made for.
"""

from __future__ import annotations

import contextlib
import os
from dataclasses import replace
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec

from firmware_py import __version__
from firmware_py.layout.model import Layout
from firmware_py.proof.properties import GUARDING, PROPERTIES
from firmware_py.proof.way import WayBack

if TYPE_CHECKING:
    from firmware_py.proof.proving import Proof  # Who only reads a verdict loads no prover.


class Verdict(msgspec.Struct, frozen=True):
    """Which properties a layout fails; ``digest`` says which layout, and which code.

    ``way`` is the longest way back of all; verdicts of earlier versions have none.
    """

    digest: str
    fails: tuple[int, ...]
    states: int
    way: WayBack | None = None

    @classmethod
    def of(cls, layout: Layout, done: list[Proof]) -> Verdict:
        """The verdict of a proof."""
        fails = sorted({item.number for proof in done for item in proof.refuted})
        states = sum(proof.states for proof in done)
        return cls(digest(layout), tuple(fails), states, longest_of(done))

    @property
    def forbids(self) -> tuple[int, ...]:
        """The properties that it fails and that ``run`` insists on."""
        return tuple(number for number in self.fails if number in GUARDING)


def longest_of(done: list[Proof]) -> WayBack | None:
    """The longest of the ways back of all switches; the first of several."""
    ways = [proof.way for proof in done if proof.way is not None]
    return max(ways, key=lambda way: len(way.moves), default=None)


def digest(layout: Layout) -> str:
    """What a verdict is about: the layout without its title, the core and the version.

    How long paced waits are dialled for a session changes nothing that is proven.
    """
    whole = sha256(f"{__version__}".encode())
    whole.update(repr(replace(layout, name="", scale=None, wait_scale=1.0)).encode())
    for file in sorted((Path(__file__).parents[1] / "core").glob("*.py")):
        whole.update(file.read_bytes())
    return whole.hexdigest()


def save(path: Path | None, verdict: Verdict) -> None:
    """Keep a verdict; nothing is lost where it can't be kept, for it can be made again."""
    if path is None:
        return
    fresh = path.with_name(f"{path.name}.{os.getpid()}")
    with contextlib.suppress(OSError):
        fresh.write_bytes(msgspec.json.encode(verdict))
        fresh.replace(path)


def kept(path: Path | None, layout: Layout) -> Verdict | None:
    """The verdict on this layout by this code; ``None`` where there is none."""
    try:
        if path is None:
            return None
        verdict = msgspec.json.decode(path.read_bytes(), type=Verdict)
    except (OSError, msgspec.DecodeError):
        return None
    return verdict if verdict.digest == digest(layout) else None


def words_on(verdict: Verdict | None) -> str:
    """What the board says of a verdict."""
    if verdict is None:
        return "This layout is not proven yet: run spurlock prove, and keep what comes of it."
    if not verdict.fails:
        return f"This layout is proven: {verdict.states} states were looked at."
    names = {it.number: it.name for it in PROPERTIES}
    failed = ", ".join(f"{number} ({names[number]})" for number in verdict.fails)
    return f"This layout is NOT proven. It fails property {failed}: run spurlock prove to see why."

"""Many sessions, one after the other, and what came of them."""

from __future__ import annotations

import hashlib
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from .disk import Disk
from .script import script_of
from .session import Outcome, Session
from .sometimes import WANTED
from .steps import Script

SHARED_MEMORY = Path("/dev/shm")


class Bench:
    """A folder with a logbook in it, on which one session after the other is played."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._disk = Disk(folder)

    def play(self, script: Script) -> Outcome:
        """Play a script, from an empty logbook on."""
        return Session(script, self._disk, self._folder).play()


@contextmanager
def bench() -> Iterator[Bench]:
    """A bench in memory where there is such a folder, and else in the temporary one."""
    where = SHARED_MEMORY if SHARED_MEMORY.is_dir() else None
    with tempfile.TemporaryDirectory(dir=where, prefix="simulation-") as folder:
        yield Bench(Path(folder))


@dataclass
class Figures:
    """What a campaign has come to."""

    sessions: int = 0
    lives: int = 0
    entries: int = 0
    virtual_us: int = 0
    met: dict[str, int] = field(default_factory=dict)
    broken: dict[int, str] = field(default_factory=dict)
    digest: str = ""

    def add(self, seed: int, outcome: Outcome) -> None:
        """Count a session in."""
        self.sessions += 1
        self.lives += outcome.lives
        self.entries += outcome.entries
        self.virtual_us += outcome.virtual_us
        for tag in outcome.met:
            self.met[tag] = self.met.get(tag, 0) + 1
        if outcome.broken is not None:
            self.broken[seed] = outcome.broken
        self.digest = hashlib.sha256((self.digest + outcome.digest).encode()).hexdigest()[:16]

    @property
    def never_met(self) -> list[str]:
        """What should have happened sometimes, and never did."""
        return sorted(WANTED - self.met.keys())


def campaign(
    seeds: range, told: Callable[[int, Outcome], bool] = lambda _seed, _outcome: True
) -> Figures:
    """Play the sessions of these seeds; ``told`` hears of each, and ends it all with false."""
    figures = Figures()
    with bench() as played_on:
        for seed in seeds:
            outcome = played_on.play(script_of(seed))
            figures.add(seed, outcome)
            if not told(seed, outcome):
                break
    return figures

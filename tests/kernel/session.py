"""One boot of the test machine with the tests inside, and what came of them."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from xml.etree import ElementTree

from tests.kernel.building import Built
from tests.kernel.machine import MachineError, command, run

ROOT = Path(__file__).resolve().parents[2]
WITHIN_S = 1500.0
Say = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Outcome:
    """What pytest said inside: how many tests there were, and which did not pass, with why."""

    tests: int
    failed: dict[str, str]
    skipped: dict[str, str]
    status: int

    @property
    def well(self) -> bool:
        """Whether all of them ran and passed; a skipped one was not tried."""
        return self.status == 0 and not self.failed and not self.skipped

    @property
    def summary(self) -> str:
        """In a few lines."""
        if not self.tests:
            return f"on the test kernel: ended with status {self.status}"
        bad = {**self.failed, **{name: f"skipped: {why}" for name, why in self.skipped.items()}}
        told = "".join(f"\n  {name}: {why}" for name, why in bad.items())
        return f"on the test kernel: {self.tests} tests, {len(bad)} not passed{told}"


def run_inside(
    built: Built, what: str, say: Say, results: Path | None = None, select: str | None = None
) -> Outcome:
    """Boot, do ``what`` inside (``tests`` or ``bench``), and read the results.

    Errors: ``MachineError`` if the machine never came to a result.
    """
    # Compiled here, at this machine's full speed: the emulated one can't keep what it compiles.
    quiet = [sys.executable, "-m", "compileall", "-q", "firmware_py", "web", "tests"]
    subprocess.run(quiet, cwd=ROOT, check=True)
    with tempfile.TemporaryDirectory(prefix="spurlock-kernel-") as name:
        folder = Path(name)
        shutil.copy(built.i2c_stub, folder)
        told = {
            "SPURLOCK_INIT": "tests",
            "SPURLOCK_RUN": what,
            "SPURLOCK_PROJECT": str(ROOT),
            "SPURLOCK_PYTHON": sys.executable,
        }
        if select is not None:
            (folder / "select").write_text(select)
        with (folder / "console.log").open("w") as console:

            def hear(text: str) -> None:
                console.write(text + "\n")
                say(text)

            try:
                run(command(built.image, folder, told), hear, WITHIN_S)
            finally:
                if results is not None:
                    shutil.copytree(folder, results, dirs_exist_ok=True)
        return _outcome(folder, what)


def _outcome(folder: Path, what: str) -> Outcome:
    try:
        status = int((folder / "status").read_text())
        if what == "bench":
            return Outcome(0, {}, {}, status)
        cases = list(ElementTree.parse(folder / "junit.xml").iter("testcase"))
    except (OSError, ValueError, ElementTree.ParseError) as error:
        said = "\n".join((folder / "console.log").read_text().splitlines()[-30:])
        raise MachineError(f"the machine left no result ({error}); it said:\n{said}") from error
    failed: dict[str, str] = {}
    skipped: dict[str, str] = {}
    for case in cases:
        name = f"{case.get('classname')}.{case.get('name')}"
        for kind, into in (("failure", failed), ("error", failed), ("skipped", skipped)):
            for found in case.iter(kind):
                into[name] = str(found.get("message")).partition("\n")[0]
    return Outcome(len(cases), failed, skipped, status)


def is_ci() -> bool:
    """Whether nothing may be skipped."""
    return os.environ.get("CI") == "true"

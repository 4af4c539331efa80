"""``python -m tests.wheels``: whether each runtime dependency has a wheel for 64-bit ARM.

Asks pip, for each Python of the Raspberry Pi OS, which wheels it would take; fetches none. The exit
status is 1 if one is missing. pip evaluates markers for the Python that runs it.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path

from firmware_py.install.wheelhouse import PYTHONS, resolving
from tests.wheels.reading import wheels_of

PYPROJECT = Path(__file__).parents[2] / "pyproject.toml"


def requirements() -> list[str]:
    """What the project needs as it runs."""
    with PYPROJECT.open("rb") as file:
        found: list[str] = tomllib.load(file)["project"]["dependencies"]
    return found


def main() -> int:
    """Ask for each Python."""
    status = 0
    for python in PYTHONS:
        with tempfile.TemporaryDirectory(prefix="spurlock-wheels-") as name:
            report = Path(name) / "report.json"
            ran = subprocess.run(
                resolving(python, requirements(), report),
                capture_output=True,
                text=True,
                check=False,
            )
            if ran.returncode:
                print(f"Python {python}: it does not resolve\n{ran.stderr}", file=sys.stderr)
                status = 1
                continue
            found = wheels_of(report)
        unfit = [wheel for wheel in found if not wheel.fits]
        status = 1 if unfit else status
        built = [wheel for wheel in found if not wheel.file.endswith("-any.whl")]
        print(f"Python {python}: {len(found)} wheels, {len(built)} of them built for ARM")
        for wheel in found:
            print(f"  {wheel.name} {wheel.version}: {wheel.file}{'' if wheel.fits else '  UNFIT'}")
    return status


if __name__ == "__main__":
    sys.exit(main())

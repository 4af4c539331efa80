"""What pip's report says it would install."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True)
class Wheel:
    """A library as pip would fetch it: its name, version and file."""

    name: str
    version: str
    file: str

    @property
    def fits(self) -> bool:
        """Whether it is a wheel, for any machine or for 64-bit ARM."""
        tags = self.file.removesuffix(".whl").rpartition("-")[2]
        return self.file.endswith(".whl") and (tags == "any" or tags.endswith("_aarch64"))


def wheels_of(report: Path) -> list[Wheel]:
    """All of them, by name (pip's installation report, version 1)."""
    found = []
    for item in json.loads(report.read_text("utf-8"))["install"]:
        about, file = item["metadata"], item["download_info"]["url"].rpartition("/")[2]
        found.append(Wheel(about["name"], about["version"], file))
    return sorted(found, key=lambda wheel: wheel.name.lower())

"""Picks out of the Markdown pages what they promise: commands, options, paths, examples."""

import re
import shlex
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).parents[2]

_FENCE = re.compile(r"^```(?P<kind>[^\n]*)\n(?P<text>.*?)^```$", re.MULTILINE | re.DOTALL)
_CODE = re.compile(r"`([^`\n]+)`")
_LINK = re.compile(r"\]\(([^)\s]+)\)")


class Page(NamedTuple):
    """A page: where it is, and its text."""

    path: Path
    text: str

    @property
    def name(self) -> str:
        return self.path.relative_to(ROOT).as_posix()

    def fences(self, kind: str | None = None) -> list[str]:
        """The texts of the fenced examples, of one kind if asked."""
        found = _FENCE.finditer(self.text)
        return [f["text"] for f in found if kind is None or f["kind"].strip() == kind]

    def spans(self) -> list[str]:
        """What stands between back-ticks in running text."""
        return _CODE.findall(_FENCE.sub("", self.text))

    def links(self) -> list[str]:
        """Where links lead, without what follows a ``#``."""
        found = _LINK.findall(_FENCE.sub("", self.text))
        return [link.partition("#")[0] for link in found if "://" not in link]

    def table(self, first_heading: str) -> list[list[str]]:
        """The rows of the table whose first column is headed so, without its heading."""
        lines = self.text.splitlines()
        start = next(n for n, line in enumerate(lines) if line.startswith(f"| {first_heading} |"))
        rows = []
        for line in lines[start + 2 :]:
            if not line.startswith("|"):
                break
            rows.append([cell.strip() for cell in line.strip("|").split("|")])
        return rows


def pages() -> list[Page]:
    """README, the hardware pages, and the developers' page where there is one."""
    paths = [ROOT / "README.md", *sorted((ROOT / "hardware_docs").glob("*.md"))]
    developers = ROOT / "DEVELOPERS.md"
    paths += [developers] if developers.exists() else []
    return [Page(path, path.read_text(encoding="utf-8")) for path in paths]


def code_lines(page: Page) -> Iterator[str]:
    """Every line of code a page shows: spans, and the lines of fences."""
    yield from page.spans()
    for fence in page.fences():
        yield from fence.splitlines()


def spurlock_lines(page: Page) -> list[list[str]]:
    """The words after ``spurlock`` of every command line that a page shows."""
    found = []
    for line in code_lines(page):
        for part in line.split("&&"):
            command = re.match(r"\s*(?:\$ )?(?:\S*/)?spurlock( .+)", part)
            if command:
                found.append(shlex.split(command[1], comments=True))
    return found

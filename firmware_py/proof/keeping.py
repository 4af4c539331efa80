"""Where a verdict is kept. By itself, since a start that has none loads nothing else of a proof."""

from __future__ import annotations

from pathlib import Path


def verdict_path(logbook: str) -> Path | None:
    """Where the verdict of a logbook's layout is kept; ``None`` where that is no file."""
    name = logbook.removeprefix("sqlite:///")
    return None if "://" in name else Path(name).with_suffix(".proof.json")

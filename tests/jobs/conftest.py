"""A filled logbook with a screen over it, and the console script."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.append(str(Path(__file__).parents[1]))
sys.path.append(str(Path(__file__).parents[1] / "web"))
sys.path.append(str(Path(__file__).parents[1] / "commands"))

from web_fixtures import filler, path, screen, spurlock

__all__ = ["filler", "path", "screen", "spurlock"]

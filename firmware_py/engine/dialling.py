"""The pace dial as the engine has it: read as a session begins, and told by that session's text."""

from __future__ import annotations

import sqlalchemy

from firmware_py.forecast.dial import DIAL, kept_scale
from firmware_py.layout.pacing import with_wait_scale
from firmware_py.logbook.errors import LogbookError
from firmware_py.logbook.screen.settings import setting


class Dial:
    """Reads the host's setting. ``usual`` is what the layout file itself says of paced waits."""

    def __init__(self, database: sqlalchemy.Engine, toml: str, usual: float) -> None:
        self._database = database
        self._toml = toml
        self._usual = usual

    def scale(self) -> float:
        """The dial as it is set; the layout's own where it is not, or can't be had."""
        try:
            scale = kept_scale(setting(self._database, DIAL), self._usual)
            self.text(scale)  # A session's own layout must be able to tell what it is under.
        except (LogbookError, ValueError):
            return self._usual
        return scale

    def text(self, scale: float) -> str:
        """The layout's text as a session under this scale keeps it."""
        return self._toml if scale == self._usual else with_wait_scale(self._toml, scale)

    def says(self, scale: float) -> str:
        """What to remark of it; empty where there is nothing to say."""
        if scale == self._usual:
            return ""
        return f"Paced waits are {scale:g} times as long as the layout says."

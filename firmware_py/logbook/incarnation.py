"""Which logbook this is: drawn once for it, and anew where an old one took its place."""

from __future__ import annotations

import secrets

from sqlalchemy import Engine

from firmware_py.logbook.screen.settings import change, setting

SETTING = "node-incarnation"


def incarnation_of(engine: Engine, *, anew: bool = False) -> str:
    """The logbook's incarnation: 32 hexadecimal digits. Raises ``LogbookError``.

    ``anew`` is for a logbook that was put back to an earlier state: its ids come a second time,
    and would be taken for entries that a board has already.
    """
    known = None if anew else setting(engine, SETTING)
    if known is None:
        known = secrets.token_hex(16)
        change(engine, SETTING, known)
    return known

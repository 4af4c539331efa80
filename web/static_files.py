"""The pages' own files, under a path that changes with what they hold.

A browser that has one of them once need not ask again, and never shows a new page with an old
script: after an update the path is another one. Modules import one another by relative names, so
they are all under the same path.
"""

from __future__ import annotations

import hashlib
from functools import cache
from pathlib import Path

FOLDER = Path(__file__).parent / "static"
KEPT_S = 365 * 24 * 3600
"""As long as any browser keeps a file."""


@cache
def static_path() -> str:
    """``/static/`` and a digest of all the files' names and contents."""
    digest = hashlib.sha256()
    for file in sorted(FOLDER.iterdir()):
        digest.update(f"{file.name}\0".encode() + hashlib.sha256(file.read_bytes()).digest())
    return f"/static/{digest.hexdigest()[:12]}"

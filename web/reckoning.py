"""Long arithmetic is done by a child process: it holds up no page and leaves no memory behind."""

from __future__ import annotations

import json
import subprocess
import sys
import threading

from web.asks import AskError

LONGEST_S = 30
BUSY_S = 10

_one = threading.BoundedSemaphore(1)
"""One at a time: two would share the Pi's cores with the engine's lamps."""


def reckon(module: str, question: object, longest_s: float = LONGEST_S) -> object:
    """What ``python -m module`` answers, as JSON, to the question that it reads as JSON.

    A module that refuses ends with status 2 and one sentence on its error output. Raises
    ``AskError``: 422 with that sentence, 503 if another reckoning takes too long, 500 if it breaks.
    """
    if not _one.acquire(timeout=BUSY_S):
        raise AskError(503, "another reckoning is still running; try again in a moment")
    try:
        child = subprocess.run(
            [sys.executable, "-m", module],
            input=json.dumps(question).encode(),
            capture_output=True,
            timeout=longest_s,
            check=False,
        )
    except subprocess.TimeoutExpired as error:
        raise AskError(503, f"the reckoning took longer than {longest_s:g} s") from error
    finally:
        _one.release()
    if child.returncode == 2:
        raise AskError(422, child.stderr.decode(errors="replace").strip() or "it was refused")
    if child.returncode != 0:
        last = child.stderr.decode(errors="replace").strip().splitlines()[-1:]
        raise AskError(500, f"the reckoning failed: {''.join(last)}")
    answer: object = json.loads(child.stdout)
    return answer

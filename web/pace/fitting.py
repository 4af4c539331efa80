"""``python -m web.pace.fitting``: a question about a locomotive as JSON in, its advice out.

It loads numpy and scipy, so only a child process runs it (``web/reckoning.py``). Status 2 with one
sentence where the question can't be answered.
"""

from __future__ import annotations

import sys

import msgspec

from firmware_py.dynamics.advising import Question, advise
from firmware_py.dynamics.sound import UnsoundError


def main() -> int:
    """Read, advise, write."""
    try:
        question = msgspec.json.decode(sys.stdin.buffer.read(), type=Question)
        advice = advise(question)
    except (UnsoundError, msgspec.MsgspecError) as wrong:
        print(wrong, file=sys.stderr)
        return 2
    sys.stdout.buffer.write(msgspec.json.encode(advice))
    return 0


if __name__ == "__main__":
    sys.exit(main())

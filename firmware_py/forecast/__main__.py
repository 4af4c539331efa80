"""``python -m firmware_py.forecast``: a question as JSON in, its answer as JSON out.

Status 2 with one sentence for a question that has no answer.
"""

from __future__ import annotations

import gc
import sys

import msgspec

from firmware_py.forecast.answering import answered
from firmware_py.forecast.words import ForecastError, Question


def main() -> int:
    """Answer one question."""
    gc.freeze()  # What was loaded stays: the collector need not look at it for each evening.
    try:
        question = msgspec.json.decode(sys.stdin.buffer.read(), type=Question)
        sys.stdout.buffer.write(msgspec.json.encode(answered(question)))
    except (ForecastError, msgspec.DecodeError) as wrong:
        sys.stderr.write(f"{wrong}\n")
        return 2
    return 0


if __name__ == "__main__":
    sys.exit(main())

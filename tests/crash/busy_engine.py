"""The engine process, unchanged, with more crews than the demo has, who also look less long."""

from __future__ import annotations

import sys

from firmware_py.demo import crew, job
from firmware_py.service import engine_process

CREWS = 4
LOOK_S = 0.02
SLIP_ONE_IN = 2

if __name__ == "__main__":
    crew.CREWS = CREWS
    crew.SLIP_ONE_IN = SLIP_ONE_IN
    job.LOOK_S = LOOK_S
    sys.exit(engine_process.main())

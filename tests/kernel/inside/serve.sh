#!/bin/sh
# Sets the machine up as the tests want it, runs them, and keeps their exit status.
cd "$SPURLOCK_PROJECT" || exit 1
export PYTHONDONTWRITEBYTECODE=1 PYTHONUNBUFFERED=1 TMPDIR=/run/tmp LG_WD=/run/lgpio
mkdir -p /run/tmp /run/lgpio
"$SPURLOCK_PYTHON" -m tests.kernel.inside "$SPURLOCK_RUN"
echo $? > /run/results/status
sync

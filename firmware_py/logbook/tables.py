"""The schema's tables, which statements are made of."""

from __future__ import annotations

from firmware_py.logbook.schema import (
    ACCESS,
    BY_HAND,
    COMMISSIONING,
    ENTRY,
    FORECAST,
    JOB,
    LOCOMOTIVE,
    PULSE,
    REMARK,
    REQUEST,
    ROLL,
    SESSION,
    SETTING,
    SIGNIN,
    SITTING,
    STANDING,
    TAPE,
    TICK,
    VIOLATION,
)

__all__ = [
    "ACCESS",
    "BY_HAND",
    "COMMISSIONING",
    "ENTRY",
    "FORECAST",
    "JOB",
    "LOCOMOTIVE",
    "PULSE",
    "REMARK",
    "REQUEST",
    "ROLL",
    "SESSION",
    "SETTING",
    "SIGNIN",
    "SITTING",
    "STANDING",
    "TAPE",
    "TICK",
    "VIOLATION",
]

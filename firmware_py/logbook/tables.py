"""The schema's tables, which statements are made of."""

from __future__ import annotations

from firmware_py.logbook.schema import (
    ACCESS,
    COMMISSIONING,
    ENTRY,
    JOB,
    PULSE,
    REMARK,
    REQUEST,
    SESSION,
    SETTING,
    SIGNIN,
    STANDING,
    TAPE,
    TICK,
    VIOLATION,
)

__all__ = [
    "ACCESS",
    "COMMISSIONING",
    "ENTRY",
    "JOB",
    "PULSE",
    "REMARK",
    "REQUEST",
    "SESSION",
    "SETTING",
    "SIGNIN",
    "STANDING",
    "TAPE",
    "TICK",
    "VIOLATION",
]

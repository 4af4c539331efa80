"""The schema's tables as Core objects, which statements are made of."""

from __future__ import annotations

from firmware_py.logbook.schema import Base

_TABLES = Base.metadata.tables

SESSION = _TABLES["session"]
TAPE = _TABLES["tape"]
ENTRY = _TABLES["entry"]
VIOLATION = _TABLES["violation"]
STANDING = _TABLES["standing"]
REQUEST = _TABLES["request"]
REMARK = _TABLES["remark"]
PULSE = _TABLES["pulse"]
JOB = _TABLES["job"]
TICK = _TABLES["tick"]
SETTING = _TABLES["setting"]
SIGNIN = _TABLES["signin"]
ACCESS = _TABLES["access"]
COMMISSIONING = _TABLES["commissioning"]
NODE = _TABLES["node"]
INCARNATION = _TABLES["incarnation"]
GATHERED = _TABLES["gathered"]
ERRAND = _TABLES["errand"]

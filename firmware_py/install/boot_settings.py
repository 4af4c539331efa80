"""The Pi's own boot settings, ``config.txt``: what Spurlock adds to it, and takes away again.

Only text goes in and comes out.
"""

from __future__ import annotations

from collections.abc import Sequence

from firmware_py.service.doctor.boot_file import I2C_SPEED, STRICT

_BEGIN = "# Added by spurlock install; spurlock uninstall takes it away."
_END = "# The end of what spurlock added."


def wanted(buses: Sequence[str]) -> tuple[str, ...]:
    """The lines that an appliance with these buses needs (Linux for the Pi, overlays README)."""
    lines = [f"dtparam={STRICT}"]
    if "i2c" in buses:
        lines += ["dtparam=i2c_arm=on", f"dtparam=i2c_arm_baudrate={I2C_SPEED}"]
    if "spi" in buses:
        lines.append("dtparam=spi=on")
    return tuple(lines)


def with_lines(text: str, lines: Sequence[str]) -> str:
    """The file's text with these lines at its end, for every model of Pi."""
    clean = without_lines(text)
    if clean and not clean.endswith("\n"):
        clean += "\n"
    block = [_BEGIN, "[all]", *lines, _END]
    return clean + "\n".join(block) + "\n"


def without_lines(text: str) -> str:
    """The file's text as it was before ``with_lines``."""
    kept, ours = [], False
    for line in text.splitlines(keepends=True):
        if line.strip() == _BEGIN:
            ours = True
        if not ours:
            kept.append(line)
        if line.strip() == _END:
            ours = False
    # A block without its end was cut by hand: then all after it may be the owner's.
    return text if ours else "".join(kept)

"""One electrical figure, with the formula it comes from and where that is written."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure as text. ``wrong`` says what to do about it, and is ``None`` where it is right.

    ``about`` is the part of the wiring it belongs to, ``assumed`` the values that the layout's
    ``[wiring]`` does not give and could.
    """

    about: str
    what: str
    value: str
    formula: str
    source: str
    assumed: tuple[str, ...] = ()
    wrong: str | None = None


def plain(value: float, unit: str) -> str:
    """A number of three figures with its unit: ``4.7 kohm``, ``2.8 mA``."""
    for size, prefix in ((1e6, "M"), (1e3, "k"), (1.0, ""), (1e-3, "m"), (1e-6, "u"), (1e-9, "n")):
        if abs(value) >= size * 0.9995:
            return f"{float(f'{value / size:.3g}'):g} {prefix}{unit}"
    return f"0 {unit}"

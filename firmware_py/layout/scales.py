"""The scales that a layout file may name, and their ratios.

Sources: NMRA S-3.2 (February 2010) for O, On3, S, OO, HO, F and Fn3; NMRA RP-3 for TT and N, and
for the 3/8-inch scale, 1:32; NEM 010 (2011) for Z, H0, 0, I and II (and the same N, TT, S).
The two bodies differ where the names do: HO is 1:87.1 and O 1:48 with the letter, H0 is 1:87 and
0 is 1:45 with the digit. Anything else is given as ``ratio``.
"""

from __future__ import annotations

from difflib import get_close_matches

DEFAULT = "HO"
"""The scale of a layout that gives neither ``scale`` nor ``ratio``."""

RATIOS: dict[str, float] = {
    "Z": 220.0,
    "N": 160.0,
    "TT": 120.0,
    "HO": 87.1,
    "H0": 87.0,
    "OO": 76.2,
    "S": 64.0,
    "O": 48.0,
    "On3": 48.0,
    "0": 45.0,
    "I": 32.0,
    "II": 22.5,
    "F": 20.3,
    "Fn3": 20.3,
}
"""Prototype length over model length, by the scale's name."""


def nearest(name: str) -> str | None:
    """The scale that someone who wrote ``name`` most likely meant."""
    by_case = {scale.casefold(): scale for scale in reversed(RATIOS)}
    close = get_close_matches(name.casefold(), by_case, n=1)
    return by_case[close[0]] if close else None

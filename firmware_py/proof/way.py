"""The longest way back, as it is told: how all stands, and what hands do then.

By itself, since whoever reads a verdict loads no prover.
"""

from __future__ import annotations

import msgspec


class WayBack(msgspec.Struct, frozen=True):
    """Sentences on how a session stands, and one for each move that puts everything back."""

    begins: tuple[str, ...]
    moves: tuple[str, ...]

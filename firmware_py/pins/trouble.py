"""What went wrong at a wire, counted, in words for the builder."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Trouble:
    """Something that failed ``times`` times at ``at`` (a wire or a chip).

    ``standing`` says whether it still fails; ``why`` is what was said the last time.
    """

    at: str
    why: str
    times: int
    standing: bool


class Tally:
    """Counts the troubles of one place."""

    __slots__ = ("at", "standing", "times", "why")

    def __init__(self, at: str) -> None:
        self.at = at
        self.why = ""
        self.times = 0
        self.standing = False

    def failed(self, why: object) -> None:
        """Note a failure."""
        self.times += 1
        self.why = str(why) or type(why).__name__
        self.standing = True

    def works(self) -> None:
        """Note that it works again; what was counted stays."""
        self.standing = False

    def report(self) -> tuple[Trouble, ...]:
        """Return the trouble, or nothing if there never was any."""
        if not self.times:
            return ()
        return (Trouble(self.at, self.why, self.times, self.standing),)

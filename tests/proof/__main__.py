"""Long looks at the prover: ``python -m tests.proof faults|silence|walk N|figures``."""

from __future__ import annotations

import sys


def main(argv: list[str]) -> int:
    """Run one of them."""
    match argv:
        case ["faults", *names]:
            from tests.proof.running import faults  # noqa: PLC0415

            return faults(names)
        case ["silence"]:
            from tests.proof.running import silence  # noqa: PLC0415

            return silence()
        case ["walk", steps]:
            from tests.proof.walking import walk  # noqa: PLC0415

            return walk(int(steps))
        case ["figures"]:
            from tests.proof.running import figures  # noqa: PLC0415

            return figures()
    print(__doc__)
    return 2


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

"""The core on a corpus of random scenes, against lines that the oracle prints for them.

The same comparison as ``tests/oracle/test_against_core.py`` with other scenes and without its
help when it fails: what the oracle prints is worked out once, so a spoilt core is found out in
moments. ``python -m tests.oracle.compare SEED SEED+1`` shows what is different.
"""

from __future__ import annotations

import pytest

from tests.oracle.compare import agrees, scene

AT_ONCE = 10


@pytest.mark.parametrize("first", range(1000, 1300, AT_ONCE))
def test_scenes(first: int) -> None:
    wrong = [seed for seed in range(first, first + AT_ONCE) if not agrees(scene(seed))]
    assert wrong == []

"""The tests of the test machine, as one test: skipped where it can't run, but never in CI.

``python -m tests.kernel`` does the same and says more.
"""

from __future__ import annotations

import pytest

from tests.kernel import building, machine
from tests.kernel.session import is_ci, run_inside


@pytest.mark.timeout(1200)
def test_all_that_is_tried_on_a_real_kernel_passes() -> None:
    if not is_ci():
        if not machine.has_qemu():
            pytest.skip("no qemu-system-x86_64 here")
        if building.built() is None:
            pytest.skip("no test kernel was built yet: python -m tests.kernel build")
    outcome = run_inside(building.build(print), "tests", print)
    assert outcome.tests > 0
    assert outcome.well, outcome.summary

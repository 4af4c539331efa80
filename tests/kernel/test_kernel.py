"""What the test machine finds, as two tests: skipped where it can't run, but never in CI.

``python -m tests.kernel`` does the same and says more.
"""

from __future__ import annotations

import pytest

from tests.kernel import appliance, building, machine
from tests.kernel.session import is_ci, run_inside


@pytest.fixture(scope="module")
def kernel() -> building.Built:
    if not is_ci():
        if not machine.has_qemu():
            pytest.skip("no qemu-system-x86_64 here")
        if building.built() is None:
            pytest.skip("no test kernel was built yet: python -m tests.kernel build")
    return building.build(print)


@pytest.mark.timeout(1800)
def test_all_that_is_tried_on_a_real_kernel_passes(kernel: building.Built) -> None:
    outcome = run_inside(kernel, "tests", print)
    assert outcome.tests > 0
    assert outcome.well, outcome.summary


@pytest.mark.timeout(1800)
def test_the_installed_appliance_stands_all_under_systemd(kernel: building.Built) -> None:
    if not is_ci() and not appliance.has_systemd():
        pytest.skip("no systemd here")
    stood = appliance.boot_installed(kernel, print)
    assert stood.passed
    assert stood.failed is None, stood.summary

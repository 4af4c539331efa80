"""The stage that most tests of the engine play on."""

from __future__ import annotations

import pytest
from engine_stage import Stage
from pytest_mock import MockerFixture


@pytest.fixture
def stage(mocker: MockerFixture) -> Stage:
    return Stage(mocker)

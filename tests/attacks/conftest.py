"""One running demo for each module of attacks."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from service.processes import running

from attacks.target import Target

pytestmark = pytest.mark.skipif(
    not Path("/proc/self/stat").exists(), reason="children are found by /proc, which isn't here"
)


@pytest.fixture(scope="module")
def target(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Target]:
    """The demo's screen, with nobody at work; it must still run and answer when all is over."""
    folder = tmp_path_factory.mktemp("attacked")
    logbook = folder / "demo" / "logbook.sqlite"
    with running(["demo", "--no-crew", "--folder", str(logbook.parent)], folder) as demo:
        screen, engine = demo.screen(), demo.engine()
        target = Target(demo, logbook)
        yield target
        target.serves()
        assert (demo.screen(), demo.engine()) == (screen, engine), "one of them was brought down"
        assert "Traceback" not in demo.said, demo.said

"""What is asked of pip, and what is made of its answer; asking it takes a network."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from firmware_py.install.wheelhouse import fetching, for_arm
from tests.wheels.__main__ import requirements
from tests.wheels.reading import Wheel, wheels_of


@pytest.mark.parametrize(
    ("file", "fits"),
    [
        ("flask-3.1.3-py3-none-any.whl", True),
        ("gevent-26.9.0-cp311-cp311-manylinux_2_28_aarch64.whl", True),
        ("gpiod-2.5.0-cp311-cp311-manylinux2014_aarch64.manylinux_2_17_aarch64.whl", True),
        ("gevent-26.9.0-cp311-cp311-manylinux_2_28_x86_64.whl", False),
        ("spidev-3.6.tar.gz", False),
    ],
)
def test_what_fits(file: str, fits: bool) -> None:
    """File names as in the binary distribution format (PEP 427) and PEP 600."""
    assert Wheel("a", "1", file).fits is fits


def test_a_report_is_read(tmp_path: Path) -> None:
    report = tmp_path / "report.json"
    item = {
        "metadata": {"name": "Flask", "version": "3.1.3"},
        "download_info": {"url": "https://example.org/flask-3.1.3-py3-none-any.whl"},
    }
    report.write_text(json.dumps({"install": [item]}))
    assert wheels_of(report) == [Wheel("Flask", "3.1.3", "flask-3.1.3-py3-none-any.whl")]


def test_no_source_is_ever_taken_and_every_library_is_asked_for() -> None:
    assert "--only-binary=:all:" in for_arm("3.13")
    assert "--only-binary=:all:" in fetching(Path("wheels"), "3.11")
    assert any(need.startswith("gpiod") for need in requirements())

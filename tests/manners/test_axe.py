"""axe-core on every page, in each of its states, while the crews are at work."""

from __future__ import annotations

import os

import pytest

from manners.conftest import House

axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe is missing")

PHONE, DESK = (360, 740), (1280, 800)
EVERY = [("light", PHONE), ("dark", DESK), ("dark", PHONE), ("light", DESK)]
LOOKS = EVERY if os.environ.get("SPURLOCK_EVERY_LOOK") else EVERY[:2]
"""Each theme and each size once; all four are for whoever has changed a style."""
OPTIONS = {"resultTypes": ["violations"], "rules": {"target-size": {"enabled": True}}}
"""All that axe checks by itself, and the size of what is pressed (WCAG 2.2, 2.5.8)."""


@pytest.mark.timeout(300)
@pytest.mark.parametrize(("scheme", "size"), LOOKS, ids=str)
def test_axe_finds_nothing(every_house: House, scheme: str, size: tuple[int, int]) -> None:
    said = []
    for view in every_house.views:
        page = every_house.visit(view, size, scheme)
        found = axe.Axe().run(page, options=OPTIONS).response["violations"]
        said += [
            f"{view.name}: {one['id']}: {node['html'][:160]}: {node['failureSummary'][:300]}"
            for one in found
            for node in one["nodes"]
        ]
    assert said == []


def test_axe_does_find_what_is_wrong(new_layout: House) -> None:
    page = new_layout.visit(new_layout.views[0], DESK)
    page.evaluate("document.querySelector('main').append(document.createElement('button'))")
    found = axe.Axe().run(page, options=OPTIONS).response["violations"]
    assert [one["id"] for one in found] == ["button-name"]

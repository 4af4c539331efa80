"""A host alone, his hands at the locks: the phone leads him by voice from the first step to home.

A browser's speech and sound are replaced by ones that note, in order, what they were asked for.
"""

from __future__ import annotations

import pytest
from browser.voice import HEARD, TONE, heard, says
from playwright.sync_api import Page, expect
from service.signing_in import PIN

from evening.shots import Shots
from evening.valley import PHONE, Valley, sign_in

MILK = {
    "name": "Milk for one",
    "crew": "",
    "cars": 1,
    "rear": "",
    "keys": ["upper-key"],
    "stops": [
        {
            "spur": "creamery",
            "pull": [{"car": "the milk car"}],
            "spot": [{"car": "an empty milk car", "place": "the upper door"}],
            "note": "The upper door is kept free after noon",
        }
    ],
}
BUTTON = (("creamery-switch.button", True), ("creamery-switch.button", False))


def begin(valley: Valley, shots: Shots) -> Page:
    """On one phone: give the PIN, open the session, go to the job's page, and start listening."""
    phone = valley.somebody("/session", PHONE, HEARD)
    phone.locator("#host").click()
    sign_in(phone, PIN)
    phone.locator("#open").click()
    expect(phone.locator("#state")).to_have_attribute("data-opened", "yes")
    phone.get_by_role("link", name="Jobs who does what").click()
    phone.get_by_role("link", name="Crew page of Milk for one").click()
    phone.locator("#alone").click()
    shots.take(phone, "alone-before")
    assert heard(phone) == []
    phone.locator("#listen").click()
    return phone


def open_up(valley: Valley, phone: Page) -> None:
    """From the yard to the open spur; who answers for the foreman is the host himself."""
    says(phone, "Have a word with the yard")
    says(phone, "Take the Upper valley switch key")
    valley.hands(("upper-key.hook", False))
    says(phone, "Press the button at the stand")
    valley.hands(*BUTTON)
    says(phone, "Wait for the foreman's answer")
    says(phone, "Take down the flag")
    valley.hands(("creamery-flag.rack", True), ("creamery-switch.hasp", False))
    valley.hands(("creamery-switch.normal", False), ("creamery-switch.reverse", True))
    says(phone, "Hang the chock in its rack")
    valley.hands(("creamery-chock.rack", True))
    says(phone, "Sound the horn")
    says(phone, "The note says: The upper door is kept free after noon")


def run_in_too_fast(valley: Valley, phone: Page, shots: Shots) -> None:
    """The trap's limit asks for more than ten seconds between its ends; hands are quicker."""
    assert TONE not in heard(phone)
    valley.hands(("creamery-switch.detector", True), ("creamery.detector", True))
    says(phone, "Attention. ")
    words = heard(phone)
    warned = next(place for place, text in enumerate(words) if text.startswith("Attention. "))
    assert words[warned - 1] == TONE
    assert "Creamery ramp" in words[warned]
    expect(phone.locator("[data-gauge=speed]")).to_have_attribute("data-state", "over")
    expect(phone.locator("#broken-head")).to_contain_text("A rule was broken")
    shots.take(phone, "alone-violation")


def close_up(valley: Valley, phone: Page) -> None:
    """The button at the stand ends the work; then all goes back where it belongs."""
    says(phone, "Stretch the couplings")
    says(phone, "The button at the stand ends the work")
    valley.hands(("creamery-switch.detector", False), *BUTTON)
    says(phone, "Set the chock")
    valley.hands(("creamery-chock.rack", False))
    says(phone, "Hand the spur back to the foreman")
    says(phone, "Put up the flag")
    valley.hands(("creamery-flag.rack", False))
    says(phone, "Line the switch for the main and lock it")
    valley.hands(("creamery-switch.reverse", False), ("creamery-switch.normal", True))
    valley.hands(("creamery-switch.hasp", True))
    says(phone, "Hang the Upper valley switch key on its hook")
    valley.hands(("upper-key.hook", True))
    says(phone, "The job is done")


def look_back(phone: Page, shots: Shots) -> None:
    """What it was: one spur, worked too fast, and an acknowledgement by himself."""
    phone.goto(phone.url.split("/crew/", maxsplit=1)[0] + "/")
    phone.locator("[data-acknowledge='1']").click()
    expect(phone.locator("[data-violation='1']")).to_have_attribute("data-acknowledged", "yes")
    phone.get_by_role("link", name="Session", exact=True).click()
    expect(phone.locator("#restore-says")).to_have_attribute("data-clear", "yes")
    phone.locator("#close").click()
    expect(phone.locator("#said")).to_contain_text("Everything is home")
    phone.get_by_role("link", name="Debrief", exact=True).click()
    expect(phone.locator(".well")).not_to_contain_text("no rule was broken")
    for region in ("Timeline of each spur", "Timeline of each job"):
        drawn = phone.get_by_role("region", name=region)
        expect(drawn.locator("title", has_text="Too fast")).to_have_count(1)
    expect(phone.get_by_role("region", name="Speeds").locator("svg")).to_be_visible()
    expect(phone.get_by_role("region", name="Timeline of each job")).to_contain_text("Milk for one")
    shots.take(phone, "alone-debrief")


@pytest.mark.timeout(240)
def test_an_evening_alone(valley: Valley, shots: Shots) -> None:
    assert valley.spurlock.post("/api/jobs", MILK) is not None
    phone = begin(valley, shots)
    open_up(valley, phone)
    run_in_too_fast(valley, phone, shots)
    close_up(valley, phone)
    assert heard(phone).count(TONE) == 2  # The two notes of the one tone.
    shots.take(phone, "alone-done")
    look_back(phone, shots)

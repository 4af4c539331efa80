"""The evening's settings, and the address that phones are sent to."""

from __future__ import annotations

import socket
from typing import Any

import pytest
from web_screen import Screen

from firmware_py.logbook.screen.settings import change, settings
from firmware_py.logbook.screen.ticks import Step
from web.jobs.addresses import AddressError, example_address, is_loopback, tidy_address
from web.jobs.settings import crew_steps, settings_view, waiting_ceiling

OWN = "http://192.168.7.4:8080/"
USUAL = {
    "address": "",
    "crew-steps": ["yard", "rear", "horn", "stretch"],
    "waiting-ceiling": 25,
    "sound": False,
    "layout-clock-start": "8:00 am",
    "pace-dial": 1.0,
}
HERE = socket.gethostname().lower().partition(".")[0]


def test_at_first_they_are_the_usual_ones_and_no_secret_is_among_them(screen: Screen) -> None:
    screen.client.get("/api/jobs")  # Draws the links' secret.
    assert {"link-secret", "pin"} <= settings(screen.engine).keys()
    assert screen.guest.get("/api/settings").get_json() == USUAL


def test_the_host_changes_those_that_are_sent(screen: Screen) -> None:
    sent = {"crew-steps": ["horn", "yard", "horn"], "address": "192.168.7.4", "sound": True}
    said = screen.client.post("/api/settings", json=sent)
    assert said.status_code == 200
    changed = {"crew-steps": ["yard", "horn"], "address": "http://192.168.7.4", "sound": True}
    assert said.get_json() == USUAL | changed
    more = {
        "waiting-ceiling": 0,
        "layout-clock-start": " 6:30  pm ",
        "crew-steps": [],
        "pace-dial": 2.5,
    }
    assert screen.client.post("/api/settings", json=more).status_code == 200
    now = USUAL | changed | more | {"layout-clock-start": "6:30 pm"}
    assert screen.guest.get("/api/settings").get_json() == now
    forgotten = {"address": "", "layout-clock-start": ""}
    assert screen.client.post("/api/settings", json=forgotten).status_code == 200
    assert screen.guest.get("/api/settings").get_json()["layout-clock-start"] == "8:00 am"


WRONG: list[tuple[dict[str, Any], int, str]] = [
    ({"crew-steps": ["whistle"]}, 400, "can't be used"),
    ({"crew-steps": ["here"]}, 400, "can't be used"),
    ({"crew-steps": "yard"}, 400, "can't be used"),
    ({"waiting-ceiling": 101}, 400, "can't be used"),
    ({"waiting-ceiling": -1}, 400, "can't be used"),
    ({"sound": "on"}, 400, "can't be used"),
    ({"pace-dial": 0}, 400, "can't be used"),
    ({"pace-dial": 1e9}, 400, "can't be used"),
    ({"pace-dial": "brisk"}, 400, "can't be used"),
    ({"link-secret": "00"}, 400, "can't be used"),
    ({"pin": "1234"}, 400, "can't be used"),
    ({"layout-clock-start": "25:00"}, 409, "a time of day looks like 8:00 am or 20:15"),
    ({"address": "http://elsewhere.example"}, 409, "does not answer to the name"),
    ({"address": "http://127.0.0.1/crew"}, 409, "an address looks like"),
]


@pytest.mark.parametrize(("sent", "status", "says"), WRONG, ids=range(len(WRONG)))
def test_what_can_not_be_a_setting_changes_nothing(
    screen: Screen, sent: dict[str, Any], status: int, says: str
) -> None:
    said = screen.client.post("/api/settings", json={"waiting-ceiling": 40} | sent)
    assert said.status_code == status
    assert says in said.get_json()["error"]
    assert screen.guest.get("/api/settings").get_json() == USUAL


def test_what_stands_badly_in_the_logbook_is_the_usual(screen: Screen) -> None:
    for name, value in (("crew-steps", "yard"), ("waiting-ceiling", "lots"), ("sound", "7")):
        change(screen.engine, name, value)
    kept = settings(screen.engine)
    assert settings_view(kept) == USUAL
    assert crew_steps({"crew-steps": '["stretch", "nap"]'}) == (Step.STRETCH,)
    assert waiting_ceiling({"waiting-ceiling": "30"}) == 30


@pytest.mark.parametrize(
    ("text", "whole"),
    [
        ("", ""),
        (" 192.168.7.20 ", "http://192.168.7.20:8080"),
        ("192.168.7.20:81", "http://192.168.7.20:81"),
        ("http://192.168.7.20", "http://192.168.7.20"),
        ("HTTPS://192.168.7.20:8443/", "https://192.168.7.20:8443"),
        ("[fd00::7]", "http://[fd00::7]:8080"),
        (f"{HERE}.local", f"http://{HERE}.local:8080"),
    ],
)
def test_an_address_is_made_whole(text: str, whole: str) -> None:
    assert tidy_address(text, OWN) == whole


@pytest.mark.parametrize(
    "text",
    [
        "ftp://192.168.7.20",
        "http://192.168.7.20/x",
        "http://192.168.7.20?x",
        "http://a@192.168.7.20",
        "http://192.168.7.20:0",
        "http://192.168.7.20:99999",
        "http://[::::]",
        "javascript:alert(1)",
        "http://example.com",
        "1" * 300,
        "http://",
        "\u0661.2.3.4",
    ],
)
def test_what_is_no_address_of_this_machine_is_refused(text: str) -> None:
    with pytest.raises(AddressError, match=r"http://.*\.local:8080"):
        tidy_address(text, OWN)


def test_which_addresses_lead_a_phone_to_itself() -> None:
    assert all(
        is_loopback(f"http://{name}:8080")
        for name in ("127.0.0.1", "127.9.9.9", "localhost", "[::1]", "0.0.0.0", "[::]")
    )
    assert not any(is_loopback(f"http://{name}") for name in ("192.168.7.20", HERE, "[fd00::7]"))
    assert example_address("http://127.0.0.1/") == f"http://{HERE}.local"

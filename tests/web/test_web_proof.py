"""The page of the proof: every property, and every rule with what stands behind it."""

from pathlib import Path

from flask.testing import FlaskClient
from web_filled import Filler
from web_screen import Screen

from firmware_py.core.names import Rule
from firmware_py.proof.keeping import verdict_path
from firmware_py.proof.properties import PROPERTIES
from firmware_py.proof.verdict import Verdict, digest, save
from firmware_py.proof.way import WayBack


def test_the_page_says_every_property_and_every_rule(client: FlaskClient) -> None:
    answer = client.get("/proof")
    assert answer.status_code == 200
    for it in PROPERTIES:
        assert it.name.capitalize() in answer.text
    for rule in Rule:
        assert f"{rule.value}, section" in answer.text


def test_the_board_leads_there(client: FlaskClient) -> None:
    assert 'href="/proof"' in client.get("/").text


def test_the_page_tells_the_longest_way_back_of_the_layout_that_runs(
    path: Path, filler: Filler, screen: Screen
) -> None:
    screen.look()
    assert "This layout is not proven yet" in screen.client.get("/proof").text
    followed = screen.follower.followed
    assert followed is not None
    way = WayBack(("The gate is <open>.",), ("Shut the gate.", "Lock the gate."))
    verdict = Verdict(digest(followed.plan.layout), (), 1234, way)
    save(verdict_path(str(path)), verdict)
    text = screen.client.get("/proof").text
    assert "1234 states were looked at" in text
    assert "takes 2 moves" in text
    assert "<li>The gate is &lt;open&gt;.</li>" in text
    assert text.index("<li>Shut the gate.</li>") < text.index("<li>Lock the gate.</li>")


def test_a_verdict_without_a_way_tells_none(path: Path, filler: Filler, screen: Screen) -> None:
    screen.look()
    followed = screen.follower.followed
    assert followed is not None
    save(verdict_path(str(path)), Verdict(digest(followed.plan.layout), (), 1234))
    text = screen.client.get("/proof").text
    assert "1234 states were looked at" in text
    assert "longest way back" not in text


def test_before_the_first_session_the_page_points_to_the_board(client: FlaskClient) -> None:
    assert "remarks say how the proof of a layout stands" in client.get("/proof").text

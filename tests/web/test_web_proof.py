"""The page of the proof: every property, and every rule with what stands behind it."""

from flask.testing import FlaskClient

from firmware_py.core.names import Rule
from firmware_py.proof.properties import PROPERTIES


def test_the_page_says_every_property_and_every_rule(client: FlaskClient) -> None:
    answer = client.get("/proof")
    assert answer.status_code == 200
    for it in PROPERTIES:
        assert it.name.capitalize() in answer.text
    for rule in Rule:
        assert f"{rule.value}, section" in answer.text


def test_the_board_leads_there(client: FlaskClient) -> None:
    assert 'href="/proof"' in client.get("/").text

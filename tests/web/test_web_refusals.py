"""What somebody is shown who comes to an address where there is nothing, and how files are kept."""

from __future__ import annotations

import re

import pytest
from flask.testing import FlaskClient

BROWSER = {"Accept": "text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8"}


@pytest.mark.parametrize("where", ["/nowhere", "/debrief/999", "/jobs/x/sheet"])
def test_a_person_gets_a_page_that_leads_on(client: FlaskClient, where: str) -> None:
    answer = client.get(where, headers=BROWSER)
    assert answer.status_code == 404
    assert answer.mimetype == "text/html"
    assert "There is no such page" in answer.text
    assert '<a class="button" href="/">' in answer.text


@pytest.mark.parametrize("headers", [{}, {"Accept": "*/*"}, {"Accept": "application/json"}])
def test_a_program_gets_json(client: FlaskClient, headers: dict[str, str]) -> None:
    answer = client.get("/nowhere", headers=headers)
    assert answer.status_code == 404
    assert answer.json == {"error": "there is nothing at this address"}


def test_what_is_for_programs_is_json_even_to_a_browser(client: FlaskClient) -> None:
    answer = client.get("/api/nowhere", headers=BROWSER)
    assert answer.status_code == 404
    assert set(answer.json) == {"error"}


def test_a_page_names_its_files_by_what_they_hold_and_browsers_keep_them(
    client: FlaskClient,
) -> None:
    found = re.findall(r'(?:href|src)="(/static/[^"]+)"', client.get("/").text)
    assert found
    for path in found:
        assert re.fullmatch(r"/static/[0-9a-f]{12}/[\w-]+\.(css|js|svg)", path)
        kept = client.get(path).headers["Cache-Control"]
        assert kept == "public, max-age=31536000"


def test_a_file_by_its_bare_name_is_asked_for_each_time(client: FlaskClient) -> None:
    assert client.get("/static/base.css").headers["Cache-Control"] == "no-cache"
    assert client.get("/static/000000000000/base.css").status_code == 404

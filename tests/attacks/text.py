"""Texts that a page must show as they are, and that a page which trusts them would run."""

from __future__ import annotations

from attacks.target import Target

SCRIPTS = (
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(2)>',
    "</title></textarea><svg onload=alert(3)>",
    "'-alert(4)-'",
    "javascript:alert(5)",
    "{{7*7}}${7*7}#{7*7}",
    "]]><iframe srcdoc='<script>parent.alert(6)</script>'>",
    "&lt;b&gt;&#x3c;i onclick=alert(7)>",
)
SHORT = SCRIPTS[1]


def job(text: str = "Local", spur: str = "brickyard", note: str | None = None) -> dict[str, object]:
    """A job with the same text in every field that takes words."""
    car = {"car": text, "place": text}
    stop = {"spur": spur, "pull": [car], "spot": [car], "note": text if note is None else note}
    return {"name": text, "crew": text, "cars": 3, "rear": "marker", "stops": [stop]}


def make(target: Target, body: dict[str, object]) -> tuple[int, str]:
    """Make a job as the host; its number and its crew's link."""
    made = target.post("/api/jobs", body, target.host())
    assert made.status == 201, made.text
    number = int(made.json["job"])
    listed = target.send("GET", "/api/jobs", head=target.host()).json["jobs"]
    [path] = [one["link"] for one in listed if one["id"] == number]
    return number, str(path).removeprefix("/crew/")

"""What is refused is said as JSON to programs, and on a page to whoever has come to one."""

from __future__ import annotations

from flask import Response, jsonify, make_response, render_template, request

HEADS = {
    404: "There is no such page",
    405: "This is no page",
    409: "Not yet",
    410: "This is over",
    503: "Not just now",
}


def refused(status: int, reason: str, retry_after_s: int | None = None) -> Response:
    """The answer with this status. ``reason`` is one sentence without its capital and stop."""
    if _looks_at_a_page():
        head = HEADS.get(status, "That did not work")
        response = make_response(render_template("refused.html", head=head, why=reason), status)
    else:
        response = make_response(jsonify({"error": reason}), status)
    if retry_after_s is not None:
        response.headers["Retry-After"] = str(retry_after_s)
    return response


def _looks_at_a_page() -> bool:
    """Whether a person reads the answer: a browser that goes somewhere wants HTML before all."""
    if request.path.startswith(("/api/", "/static/")):
        return False
    return request.accept_mimetypes.best_match(["application/json", "text/html"]) == "text/html"

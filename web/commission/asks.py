"""Whether what a page asks of a sitting can be left for it."""

from __future__ import annotations

from firmware_py.commissioning.asking import Asked, ill_formed
from firmware_py.logbook.screen.job_checks import can_be_shown
from web.asks import AskError
from web.commission.views import SAYS, View


def judge_asked(asked: Asked, view: View | None) -> None:
    """Raise ``AskError`` 409 unless it makes sense and its sitting is there to answer.

    Whether the step is still the one that it names is for the sitting to judge.
    """
    wrong = ill_formed(asked) or _unreadable(asked)
    if wrong is not None:
        raise AskError(409, wrong)
    if view is None or view["word"] != "live":
        says = SAYS[view["word"] if view else "listening"].rstrip(".")
        raise AskError(409, f"{says[0].lower()}{says[1:]}; nothing was asked")
    if view["sitting"]["id"] != asked.sitting:
        raise AskError(409, "another test has begun since; look what is asked now")


def _unreadable(asked: Asked) -> str | None:
    """What can't be written into a record: marks that nobody sees, or that turn a text about."""
    if asked.signing is None:
        return None
    written = (getattr(asked.signing, name) for name in asked.signing.__struct_fields__)
    if all(can_be_shown(text.replace("\r", "").replace("\n", "")) for text in written):
        return None
    return "the record has characters that can't be shown; write it without them"

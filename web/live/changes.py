"""What changed between two views: only that is sent."""

from __future__ import annotations

from typing import Any

View = dict[str, Any]


def difference(old: View, new: View) -> View:
    """The sections that differ. In a section that is a dict, only the keys that differ.

    A key that is gone is there with ``None``. A section that is gone is ``None`` as a whole.
    """
    found: View = {}
    for section in {**old, **new}:
        before, after = old.get(section), new.get(section)
        if before == after:
            continue
        if isinstance(before, dict) and isinstance(after, dict):
            found[section] = _keys(before, after)
        else:
            found[section] = after
    return found


def _keys(before: View, after: View) -> View:
    gone = dict.fromkeys(key for key in before if key not in after)
    return gone | {key: value for key, value in after.items() if before.get(key) != value}

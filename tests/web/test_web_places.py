"""Places for what takes long: so many at once, and the rest are told to come again."""

from __future__ import annotations

import pytest

from web import places
from web.asks import AskError


def test_one_too_many_is_told_to_come_again(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(places, "PATIENCE_S", 0.01)
    two = places.Places(2)
    with two.taken("debriefs"), two.taken("debriefs"):
        with pytest.raises(AskError, match="too many ask for debriefs") as caught:
            two.taken("debriefs").__enter__()
        assert (caught.value.status, caught.value.retry_after_s) == (503, 5)
    with two.taken("debriefs"):
        pass


def test_a_place_comes_free_when_its_work_fails() -> None:
    one = places.Places(1)
    for _ in range(3):
        with pytest.raises(ZeroDivisionError), one.taken("debriefs"):
            raise ZeroDivisionError

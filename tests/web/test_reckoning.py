"""Arithmetic in a child process: its answer, its refusal, its breaking and its time."""

from __future__ import annotations

from pathlib import Path

import pytest

from web.asks import AskError
from web.reckoning import reckon


def module(folder: Path, monkeypatch: pytest.MonkeyPatch, text: str) -> str:
    (folder / "asked_of.py").write_text("import json, sys\n" + text)
    monkeypatch.setenv("PYTHONPATH", str(folder))
    return "asked_of"


def test_the_answer_comes_back(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    name = module(tmp_path, monkeypatch, "print(json.dumps(json.load(sys.stdin)['a'] * 2))")
    assert reckon(name, {"a": 21}) == 42


def test_a_refusal_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    name = module(tmp_path, monkeypatch, "print('no crew', file=sys.stderr); sys.exit(2)")
    with pytest.raises(AskError, match="no crew") as caught:
        reckon(name, {})
    assert caught.value.status == 422


def test_one_that_breaks_says_how(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    name = module(tmp_path, monkeypatch, "1 / 0")
    with pytest.raises(AskError, match="ZeroDivisionError") as caught:
        reckon(name, {})
    assert caught.value.status == 500


def test_one_that_hangs_is_ended_and_the_next_is_answered(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    name = module(tmp_path, monkeypatch, "import time; time.sleep(600)")
    with pytest.raises(AskError, match="longer than") as caught:
        reckon(name, {}, longest_s=0.5)
    assert caught.value.status == 503
    (tmp_path / "asked_of.py").write_text("print('7')")
    assert reckon(name, {}) == 7

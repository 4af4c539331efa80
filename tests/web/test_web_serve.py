"""The screen as a process of its own: its address, its streams, and its end."""

from __future__ import annotations

import contextlib
import json
import os
import re
import signal
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from http.client import HTTPResponse
from pathlib import Path

import pytest
from web_filled import Filler

from web.serve import main

ROOT = Path(__file__).parents[2]
PATIENCE_S = 30.0


@contextlib.contextmanager
def served(path: Path, *more: str) -> Iterator[tuple[subprocess.Popen[str], str]]:
    """A screen in a process of its own, and its address."""
    command = [sys.executable, "-m", "web", "--logbook", str(path), "--port", "0", *more]
    process = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    try:
        said = re.search(r"http://127\.0\.0\.1:\d+/", process.stdout.readline())
        assert said is not None
        yield process, said[0]
    finally:
        process.kill()
        process.wait()
        process.stdout.close()


def opened(url: str) -> HTTPResponse:
    """An answer whose body is still to be read."""
    answer: HTTPResponse = urllib.request.urlopen(url, timeout=PATIENCE_S)
    return answer


def event(stream: HTTPResponse, kind: str) -> dict[str, object]:
    """The data of the next event of a kind."""
    found = False
    for raw in stream:
        line = raw.decode().rstrip("\n")
        if line == f"event: {kind}":
            found = True
        elif found and line.startswith("data: "):
            data: dict[str, object] = json.loads(line[6:])
            return data
    raise AssertionError(f"the stream ended without {kind}")


def until(true: Callable[[], bool]) -> None:
    """Wait for something that comes without being announced."""
    last = time.monotonic() + PATIENCE_S
    while not true():
        assert time.monotonic() < last
        time.sleep(0.05)


@pytest.mark.parametrize("stop", [signal.SIGTERM, signal.SIGINT])
def test_it_stops_when_told_to_though_streams_are_open(
    path: Path, filler: Filler, stop: signal.Signals
) -> None:
    with served(path) as (process, url):
        stream = opened(f"{url}api/events")
        assert event(stream, "state")["head"]["layout"] == "Tarn Hollow"
        process.send_signal(stop)
        assert process.wait(PATIENCE_S) == 0
        with contextlib.suppress(OSError):
            assert stream.read() is not None  # It ends; nothing waits for the client.


def test_a_change_in_the_log_comes_down_the_stream(path: Path, filler: Filler) -> None:
    with served(path) as (_, url), opened(f"{url}api/events") as stream:
        event(stream, "state")
        filler.read(3, "coal-switch.hasp", False)
        filler.wait(4)
        patch = event(stream, "patch")
        while "coal" not in patch.get("rows", {}):
            patch = event(stream, "patch")
        lines = [entry["line"] for entry in patch["entries"]]
        assert {"t": 3.02, "what": "stage", "switch": "coal-switch", "stage": "unlocked"} in lines
        event(stream, "beat")


def test_streams_beyond_the_bound_get_a_word_and_other_requests_still_work(
    path: Path, filler: Filler
) -> None:
    with served(path, "--streams", "1") as (_, url):
        stream = opened(f"{url}api/events")
        event(stream, "state")
        with pytest.raises(urllib.error.HTTPError) as refused:
            opened(f"{url}api/events")
        assert refused.value.code == 503
        assert "screens are open already" in json.load(refused.value)["error"]
        refused.value.close()
        assert json.load(opened(f"{url}health"))["streams"] == 1
        stream.close()
        until(lambda: json.load(opened(f"{url}health"))["streams"] == 0)


@pytest.mark.parametrize(
    ("arguments", "word"),
    [
        (["--port", "0"], "there is no folder"),
        (["--port", "0", "--host", "203.0.113.1"], "can't listen there"),
    ],
)
def test_what_can_not_be_served_is_told_in_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], word: str
) -> None:
    assert main(["--logbook", str(tmp_path / "none" / "log.sqlite"), *arguments]) == 2
    told = capsys.readouterr().err
    assert word in told
    assert told.count("\n") == 1


@pytest.mark.parametrize("port", ["-1", "65536", "x", "²"])
def test_a_port_that_is_none_is_refused(port: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as refused:
        main(["--logbook", os.devnull, "--port", port])
    assert refused.value.code == 2
    assert "is not a number from 0 to 65535" in capsys.readouterr().err

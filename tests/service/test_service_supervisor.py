"""The supervisor with tiny children: each falls and comes back without the other stopping."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from firmware_py.service import supervisor as room
from firmware_py.service.supervisor import BACK_OFF_S, WELL_AFTER_S, Child
from service.processes import GENEROUS_S, alive, until

DRIVER = """
import json, sys
from firmware_py.service import supervisor
supervisor.STOP_WITHIN_S = float(sys.argv[3])
commands = json.loads(sys.argv[1]), json.loads(sys.argv[2])
say = lambda text: print(text, flush=True)
sys.exit(supervisor.Supervisor(*commands, say).run())
"""

WORK = "while :; do sleep 0.05; done"


class Watched:
    """A supervisor in a process of its own, over two children that are shell scripts.

    Each child notes its process in ``NAME.pids`` as it starts and, where told to stop, its name in
    ``stops``. ``engine`` and ``screen`` say what a child does after that.
    """

    def __init__(self, folder: Path, engine: str, screen: str, patience_s: float = 8.0) -> None:
        self.folder = folder
        commands = [self._command("engine", engine), self._command("screen", screen)]
        given = [json.dumps(command) for command in commands]
        self.process = subprocess.Popen(
            [sys.executable, "-c", DRIVER, *given, str(patience_s)],
            stdout=subprocess.PIPE,
            text=True,
        )

    def _command(self, name: str, does: str) -> list[str]:
        stop = f'trap "echo {name} >> stops; exit 0" TERM'
        script = f"cd {self.folder}; {stop}; echo $$ >> {name}.pids; {does}"
        return ["/bin/sh", "-c", script]

    def pids(self, name: str) -> list[int]:
        path = self.folder / f"{name}.pids"
        return [int(line) for line in path.read_text().split()] if path.exists() else []

    def started(self, name: str, times: int = 1) -> int:
        """Wait until a child has started so often; its latest process."""
        until(lambda: len(self.pids(name)) >= times)
        return self.pids(name)[-1]

    def stops(self) -> list[str]:
        path = self.folder / "stops"
        return path.read_text().split() if path.exists() else []

    def end(self, number: int | None = None) -> tuple[int, str]:
        """Wait for its end, told by a signal or not: exit status, and what it said."""
        if number is not None:
            self.process.send_signal(number)
        said, _ = self.process.communicate(timeout=GENEROUS_S)
        return self.process.returncode, said


class Place:
    """Makes supervisors, and leaves none behind."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self.made: list[Watched] = []

    def __call__(self, engine: str = WORK, screen: str = WORK, patience_s: float = 8.0) -> Watched:
        self.made.append(Watched(self._folder, engine, screen, patience_s))
        return self.made[-1]


@pytest.fixture
def supervise(tmp_path: Path) -> Iterator[Place]:
    place = Place(tmp_path)
    yield place
    for watched in place.made:
        if watched.process.poll() is None:
            watched.process.kill()
            watched.process.communicate()


@pytest.mark.parametrize(("falls", "other"), [("engine", "screen"), ("screen", "engine")])
def test_a_child_that_is_killed_comes_back_and_the_other_goes_on(
    supervise: Place, falls: str, other: str
) -> None:
    watched = supervise()
    stays = watched.started(other)
    os.kill(watched.started(falls), signal.SIGKILL)
    again = watched.started(falls, times=2)
    until(lambda: alive(again))
    assert alive(stays)
    assert watched.pids(other) == [stays]
    status, said = watched.end(signal.SIGTERM)
    assert status == 0
    assert f"The {falls} stopped (signal SIGKILL); it starts again in 0.5 s." in said


def test_a_screen_that_can_never_start_does_not_stop_the_engine(supervise: Place) -> None:
    watched = supervise(screen="exit 2")
    engine = watched.started("engine")
    watched.started("screen", times=3)
    assert alive(engine)
    status, said = watched.end(signal.SIGTERM)
    assert status == 0
    assert "The screen stopped (exit status 2); it starts again in 1 s." in said
    assert watched.pids("engine") == [engine]


def test_an_engine_that_says_why_it_cannot_begin_ends_everything_with_its_status(
    supervise: Place,
) -> None:
    watched = supervise(engine="exit 2")
    assert watched.end()[0] == 2
    assert not alive(watched.started("screen"))


def test_an_engine_that_has_once_guarded_is_started_again_whatever_ended_it(
    supervise: Place,
) -> None:
    """A file that can't be read any more is no reason to leave the switches to themselves."""
    second = f'if [ "$(wc -l < engine.pids)" = 2 ]; then exit 2; fi; {WORK}'
    watched = supervise(engine=second)
    os.kill(watched.started("engine"), signal.SIGKILL)
    until(lambda: alive(watched.started("engine", times=3)))
    assert watched.end(signal.SIGTERM)[0] == 0


def test_the_engines_good_end_ends_everything(supervise: Place) -> None:
    watched = supervise(engine=f"(sleep 0.5; kill -TERM $$) & {WORK}")
    assert watched.end()[0] == 0
    assert watched.stops() == ["engine", "screen"]


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_a_signal_stops_both_the_engine_first(supervise: Place, number: int) -> None:
    """Bolts and power are the engine's to make safe; the screen may tell of it until then."""
    watched = supervise()
    pids = [watched.started("engine"), watched.started("screen")]
    assert watched.end(number)[0] == 0
    assert watched.stops() == ["engine", "screen"]
    assert not any(alive(pid) for pid in pids)


def test_a_child_that_does_not_heed_is_made_to(supervise: Place) -> None:
    watched = supervise(engine=f'trap "" TERM; {WORK}', patience_s=0.5)
    engine = watched.started("engine")
    watched.started("screen")
    assert watched.end(signal.SIGTERM)[0] == 0
    assert not alive(engine)
    assert watched.stops() == ["screen"]


def test_a_second_signal_does_not_cut_the_stopping_short(supervise: Place) -> None:
    slow = f'trap "touch asked; sleep 0.7; echo engine >> stops; exit 0" TERM; {WORK}'
    watched = supervise(engine=slow)
    watched.started("engine")
    watched.started("screen")
    watched.process.send_signal(signal.SIGINT)
    until((watched.folder / "asked").exists)
    assert watched.end(signal.SIGINT)[0] == 0
    assert watched.stops() == ["engine", "screen"]


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux tells a child of its parent's end")
def test_a_supervisor_that_is_killed_leaves_nobody_behind(supervise: Place) -> None:
    watched = supervise()
    pids = [watched.started("engine"), watched.started("screen")]
    watched.end(signal.SIGKILL)
    until(lambda: not any(alive(pid) for pid in pids))
    assert sorted(watched.stops()) == ["engine", "screen"]


# Back-off, without waiting for it.


def test_the_wait_grows_with_each_fall_and_has_an_end() -> None:
    child = Child("engine", ["true"])
    child.began_s = 1_000.0
    waits = [child.fell(1_001.0) for _ in range(len(BACK_OFF_S) + 2)]
    assert waits == [*BACK_OFF_S, BACK_OFF_S[-1], BACK_OFF_S[-1]]
    assert list(BACK_OFF_S) == sorted(BACK_OFF_S)


def test_the_next_start_is_after_the_wait() -> None:
    child = Child("engine", ["true"], began_s=100.0)
    wait_s = child.fell(101.0)
    assert child.process is None
    assert child.again_at_s == 101.0 + wait_s


def test_a_child_that_was_well_for_a_while_starts_over_with_its_falls() -> None:
    child = Child("engine", ["true"])
    for place in range(4):
        child.began_s = 50.0
        child.fell(51.0 + place)
    child.began_s = 200.0
    assert child.fell(200.0 + WELL_AFTER_S + 1.0) == BACK_OFF_S[0]


def test_a_child_that_never_ran_can_be_stopped() -> None:
    Child("engine", ["true"]).stop()
    assert room.UNREADABLE == 2

"""Upgrades, good and broken, of services that really run (on simulated pins)."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from datetime import datetime

import pytest

from firmware_py.install.doing import Builder, do
from firmware_py.install.errors import InstallError
from firmware_py.install.places import BACKUPS, CURRENT, ENGINE_UNIT, LOGBOOK, RELEASES, UNITS, Box
from firmware_py.install.planning import Wish, installing
from firmware_py.install.proving import Sign, look, prove
from firmware_py.install.record import read
from firmware_py.install.upgrading import Proof, Upgrade
from firmware_py.service.starting import free_port
from install.install_machine import CHANGES_LOGBOOK, DEAF, LAYOUT, Played, Root, builder

NOW = datetime(2031, 4, 7, 12, 30)
GENEROUS_S = 90.0


@pytest.fixture
def said() -> list[str]:
    return []


@pytest.fixture
def box() -> Box:
    return Box(port=free_port("127.0.0.1", 0))


@pytest.fixture
def running(root: Root, machine: Played, box: Box) -> Played:
    """An installed appliance that is well."""
    wish = Wish(box, root.wheels, "0.1.0", LAYOUT.read_text(), pin="4711")
    do(machine, installing(wish), builder())
    assert patient(lambda: look(machine, box)) is None
    return machine


def patient(seen: Callable[[], Sign]) -> str | None:
    return prove(seen, within_s=GENEROUS_S, stays_s=1.0)


def brief(seen: Callable[[], Sign]) -> str | None:
    """One that need not wait long, for what is not well will not become so."""
    return prove(seen, within_s=8.0, stays_s=1.0)


def first_brief() -> Proof:
    """The new release is judged briefly, the old one that comes back patiently."""
    proofs = iter([brief, patient])
    return lambda seen: next(proofs)(seen)  # noqa: PLW0108 - another one each time


def upgrade(root: Root, machine: Played, said: list[str], build: Builder, proof: Proof) -> bool:
    root.offer("0.2.0")
    return Upgrade(machine, root.wheels, said.append, build, proof).run(NOW)


def versions(machine: Played) -> list[str]:
    return sorted(path.name for path in machine.at(RELEASES).iterdir())


def sessions(machine: Played) -> int:
    with closing(sqlite3.connect(machine.at(LOGBOOK))) as there:
        return int(there.execute("SELECT count(*) FROM session").fetchone()[0])


def test_a_good_one_is_kept(root: Root, running: Played, said: list[str]) -> None:
    unit = running.at(UNITS / ENGINE_UNIT)
    unit.write_text(unit.read_text() + "# of an older release\n")
    assert upgrade(root, running, said, builder(), patient)
    record = read(root.folder)
    assert record is not None
    assert (record.version, record.release, record.before) == ("0.2.0", "0.2.0", "0.1.0")
    assert running.at(CURRENT).readlink().name == "0.2.0"
    assert "older release" not in unit.read_text()
    saved = running.at(BACKUPS / "before-upgrade-2031-04-07-123000")
    assert {path.name for path in saved.iterdir()} == {"layout.toml", "layout.sqlite"}
    assert said[-1] == "0.2.0 is well, and is kept."
    # The one before stays for another while, and goes with the next.
    assert versions(running) == ["0.1.0", "0.2.0"]


def test_one_that_does_not_begin(root: Root, running: Played, said: list[str]) -> None:
    before, began = root.everything(), sessions(running)
    assert not upgrade(root, running, said, builder(runs=False), patient)
    assert "0.2.0 is not well: it does not even begin" in said[-2]
    assert said[-1] == "0.1.0 guards again."
    unchanged(root, before)
    assert sessions(running) == began  # The same evening's session goes on.


def test_one_that_is_not_well(root: Root, running: Played, said: list[str], box: Box) -> None:
    before = root.everything()
    assert not upgrade(root, running, said, builder(DEAF), first_brief())
    assert "0.2.0 is not well: the engine has" in said[-2]
    assert said[-1] == "0.1.0 guards again."
    unchanged(root, before)


def test_one_that_has_changed_the_logbook(root: Root, running: Played, said: list[str]) -> None:
    began = sessions(running)
    build = builder(CHANGES_LOGBOOK)
    assert not upgrade(root, running, said, build, first_brief())
    assert any("The logbook is as it was; what 0.2.0 wrote is in" in line for line in said)
    assert said[-1] == "0.1.0 guards again."
    assert sessions(running) == began
    aside = [path.name for path in running.at(LOGBOOK).parent.glob("layout-*.sqlite")]
    assert len(aside) == 1


def test_one_that_can_not_be_built_stops_nothing(
    root: Root, running: Played, said: list[str]
) -> None:
    def build(*_: object) -> None:
        raise InstallError("pip install ...: it failed: no gevent")

    running.asked.clear()
    with pytest.raises(InstallError, match="no gevent"):
        upgrade(root, running, said, build, patient)
    assert running.asked == []


def test_nothing_to_upgrade(root: Root, machine: Played, said: list[str]) -> None:
    with pytest.raises(InstallError, match="not installed here"):
        upgrade(root, machine, said, builder(), patient)


def unchanged(root: Root, before: dict[str, bytes | str]) -> None:
    """See that units, links, releases and record are as they were."""
    after = root.everything()
    for name in before.keys() | after.keys():
        if not name.startswith("var/lib/spurlock/") and not name.endswith((".said", ".pyc")):
            assert after.get(name) == before.get(name), name


# The proof itself, in virtual time.


class Clock:
    def __init__(self) -> None:
        self.now_s = 0.0

    def __call__(self) -> float:
        return self.now_s

    def sleep(self, seconds: float) -> None:
        self.now_s += seconds


def judged(seen: Callable[[float], Sign]) -> tuple[str | None, float]:
    clock = Clock()
    verdict = prove(lambda: seen(clock.now_s), clock=clock, sleep=clock.sleep)
    return verdict, clock.now_s


def test_well_from_the_beginning_takes_ten_seconds() -> None:
    assert judged(lambda _: Sign(7)) == (None, 10.0)


def test_well_only_late() -> None:
    assert judged(lambda now_s: Sign(7) if now_s > 49 else Sign(None, "starting"))[0] is None
    assert judged(lambda now_s: Sign(7) if now_s > 51 else Sign(None, "starting"))[0] is not None


def test_falling_again_and_again_is_not_well() -> None:
    verdict, at_s = judged(lambda now_s: Sign(int(now_s // 8)))
    assert verdict == "it keeps being started anew"
    assert at_s >= 60.0


def test_never_well_says_what_was_amiss() -> None:
    assert judged(lambda _: Sign(None, "the engine is starting")) == (
        "the engine is starting",
        60.0,
    )

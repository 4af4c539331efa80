"""What was promised durable survives a power cut; and a harness that would find it if it didn't.

The logbook's own promise: what ``flush`` or ``begin_session`` answered for, and whatever another
process could already read, is on the disk. What disks may do is from sqlite.org/atomiccommit.html.
"""

from __future__ import annotations

import random
import shutil
import sys
from pathlib import Path

import pytest

from tests.powercut.cutting import Disk, Keeps, Step
from tests.powercut.harness import build, cut_at_random, record

pytestmark = [
    pytest.mark.skipif(sys.platform != "linux", reason="LD_PRELOAD is Linux's"),
    pytest.mark.skipif(
        shutil.which("cc") is None and shutil.which("gcc") is None,
        reason="there is no C compiler for the recorder",
    ),
]

CUTS = 200
ROUNDS = 1_500


@pytest.fixture(scope="module")
def library(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return build(tmp_path_factory.mktemp("recorder"))


def test_two_hundred_power_cuts_lose_nothing_that_was_promised(
    library: Path, tmp_path: Path
) -> None:
    done = record(library, tmp_path, "FULL", ROUNDS)
    outcome = cut_at_random(done, tmp_path, CUTS, seed=1)
    assert outcome.damaged == []
    assert outcome.lost == []
    assert outcome.cuts == CUTS
    assert outcome.syncs > 100, "the keeper committed again and again"
    assert outcome.promised > ROUNDS, "and much was promised"
    of_database = [step for step in done if (step.letter, step.name) == ("S", "logbook.sqlite")]
    assert len(of_database) > 4, "checkpoints were among the moments"


@pytest.mark.parametrize("synchronous", ["NORMAL", "OFF"])
def test_a_keeper_that_syncs_less_is_caught(
    library: Path, tmp_path: Path, synchronous: str
) -> None:
    """The positive control: the same harness, with the one setting that durability hangs on."""
    done = record(library, tmp_path, synchronous, ROUNDS // 5)
    outcome = cut_at_random(done, tmp_path, CUTS, seed=1)
    assert len(outcome.lost) > CUTS // 10
    assert all("promised" in lost for lost in outcome.lost)


def left_by(tmp_path: Path, *done: Step, keeps: Keeps = Keeps.NOTHING) -> dict[str, bytes]:
    disk = Disk()
    for step in done:
        disk.take(step)
    disk.cut(tmp_path, keeps, random.Random(1))
    return {path.name: path.read_bytes() for path in tmp_path.iterdir()}


def test_a_disk_keeps_what_was_synced_and_no_more(tmp_path: Path) -> None:
    done = [Step("O", "a"), Step("W", "a", 0, b"kept"), Step("S", "a"), Step("W", "a", 0, b"lost")]
    assert left_by(tmp_path, *done) == {"a": b"kept"}


def test_a_disk_may_keep_all(tmp_path: Path) -> None:
    done = [Step("O", "a"), Step("W", "a", 2, b"here"), Step("T", "a", 4)]
    assert left_by(tmp_path, *done, keeps=Keeps.ALL) == {"a": b"\0\0he"}


def test_an_unlinked_file_comes_back_unless_its_folder_was_synced(tmp_path: Path) -> None:
    done = [Step("O", "a"), Step("W", "a", 0, b"journal"), Step("S", "a"), Step("U", "a")]
    (tmp_path / "one").mkdir()
    (tmp_path / "two").mkdir()
    assert left_by(tmp_path / "one", *done) == {"a": b"journal"}
    assert left_by(tmp_path / "two", *done, Step("D", "")) == {}


def test_a_write_is_torn_between_sectors_and_nowhere_else(tmp_path: Path) -> None:
    disk = Disk()
    disk.take(Step("O", "a"))
    disk.take(Step("W", "a", 0, b"\1" * 4096))
    seen = set()
    for number in range(60):
        folder = tmp_path / str(number)
        folder.mkdir()
        disk.cut(folder, Keeps.SOME, random.Random(number))
        left = (folder / "a").read_bytes() if (folder / "a").exists() else b""
        sectors = [left[at : at + 512] for at in range(0, len(left), 512)]
        assert all(len(set(sector)) == 1 for sector in sectors)
        seen.add(left)
    assert len(seen) > 10

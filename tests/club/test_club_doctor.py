"""What the doctor says of a box of a club and of a board host, with real brokers and databases."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from pathlib import Path

import msgspec
import pytest

from club.box import until, write_layout
from club.certificates import authority, certificate
from club.fleet import BOARD, Process
from club.machines import broker_in, database_in, password_of
from firmware_py.commands.doctor import report
from firmware_py.health.record import CourierHealth, GathererHealth, boot_id, path_of, read
from firmware_py.layout.reading import read_layout
from firmware_py.logbook.opening import open_engine
from firmware_py.service.doctor import board as board_host
from firmware_py.service.doctor import club
from firmware_py.service.doctor.examining import NEEDS_CARE, lines
from firmware_py.service.doctor.findings import Case, Finding, State
from firmware_py.service.trial.mosquitto import Mosquitto

NOWHERE_US = 3_600_000_000
MONTH_DAYS = 90


@pytest.fixture(scope="module")
def broker(memory: Path) -> Iterator[Mosquitto]:
    made = broker_in(memory / "broker")
    made.start()
    yield made
    made.stop()


def wall_us() -> int:
    return time.time_ns() // 1_000


def steady_us() -> int:
    return time.monotonic_ns() // 1_000


class Sick:
    """A box whose layout says where its broker is, and whatever a test has wrong with it."""

    def __init__(self, folder: Path, port: int, more: str = "", host: str = "127.0.0.1") -> None:
        self.layout = write_layout(folder, "west", host, port)
        if more:
            text = self.layout.read_text().replace("tls = false\n", more)
            self.layout.write_text(text)
        self.logbook = str(folder / "west.sqlite")
        open_engine(self.logbook).dispose()
        where = ["--layout", str(self.layout), "--logbook", self.logbook]
        log = folder / "courier.log"
        self.courier = Process("firmware_py.service.courier_process", where, log)

    @property
    def secret(self) -> Path:
        return self.layout.parent / "west.credentials"

    def found(self, *, late_us: int = 0) -> dict[str, Finding]:
        """What is found of its part in a club; ``late_us`` has the doctor come so much later."""
        clocks = (wall_us, lambda: steady_us() + late_us)
        case = Case(self.logbook, self.layout, Path("/"), *clocks)
        node = read_layout(self.layout).node
        assert node is not None
        return {one.part: one for one in club.box(case, node, self.layout.parent)}

    def record(self) -> CourierHealth | None:
        return read(path_of(self.logbook, CourierHealth), CourierHealth)


def says(finding: Finding, state: State, *words: str) -> None:
    text = " ".join(lines([finding]))
    assert finding.state is state, text
    assert bool(finding.do) is (state is State.CARE), text
    for word in words:
        assert word in text


def test_a_box_whose_courier_speaks_is_well_and_stays_connected(
    own: Path, broker: Mosquitto
) -> None:
    box = Sick(own, broker.port)
    box.courier.start()
    try:
        until(lambda: (found := box.record()) is not None and found.spoke_us is not None)
        for _ in range(3):
            found = box.found()
            assert {one.state for one in found.values()} == {State.WELL}, found
        assert "takes the password of west" in found["broker"].says
        assert "last told the board how this box fares" in found["courier"].says
        record = box.record()
        assert record is not None
        assert (record.trouble, record.taken_us) == (None, None)
        late = box.found(late_us=NOWHERE_US)
        says(late["courier"], State.CARE, "nothing was heard of it for", "spurlock-courier")
    finally:
        box.courier.stop()
    says(box.found()["courier"], State.CARE, "no courier runs on this logbook")


def test_a_box_that_another_of_its_name_has_cut_off(own: Path) -> None:
    case = Case(str(own / "west.sqlite"), None, Path("/"), wall_us, steady_us)
    now_us = steady_us()
    record = CourierHealth(
        1, boot_id(), now_us, "west", spoke_us=now_us, taken_us=now_us - 90_000_000
    )
    words = ("a second box seems to call itself west", "cut off 90 s ago", "[node] name")
    says(club.courier(case, record), State.CARE, *words)
    old = msgspec.structs.replace(record, taken_us=now_us - 3_600_000_000)
    says(club.courier(case, old), State.WELL, "as west")


def test_a_password_that_the_broker_does_not_take(own: Path, broker: Mosquitto) -> None:
    box = Sick(own, broker.port)
    says(box.found()["broker"], State.WELL, "takes the password of west")
    box.secret.write_text('password = "guessed"\n')
    words = (f"127.0.0.1:{broker.port} does not take the password of west", "mosquitto_passwd")
    says(box.found()["broker"], State.CARE, *words)
    box.courier.start()
    try:
        until(lambda: (found := box.record()) is not None and "refuses" in (found.trouble or ""))
        says(box.found()["courier"], State.CARE, "refuses west", "has not told the board anything")
        says(box.found()["broker"], State.CARE, *words)
    finally:
        box.courier.stop()


def test_a_password_file_that_can_not_be_used(own: Path, broker: Mosquitto) -> None:
    box = Sick(own, broker.port)
    box.secret.chmod(0o640)
    found = box.found()
    says(found["password"], State.CARE, "others can read it", f"chmod 600 {box.secret}")
    says(found["broker"], State.UNTOLD, "not tried")
    box.secret.unlink()
    says(box.found()["password"], State.CARE, f"{box.secret}: there is no such file", "make it")


@pytest.mark.skipif(os.geteuid() != 0, reason="only root can give a file away")
def test_a_password_file_of_another_user(own: Path, broker: Mosquitto) -> None:
    box = Sick(own, broker.port)
    os.chown(box.logbook, 65534, 65534)
    words = ("does not belong to the user whose the logbook is", "chown --reference=")
    says(box.found()["password"], State.CARE, *words)


def test_a_broker_that_is_not_there(own: Path, broker: Mosquitto) -> None:
    box = Sick(own, 1)
    says(box.found()["broker"], State.CARE, "nothing listens at 127.0.0.1:1", "start Mosquitto")
    box = Sick(own, broker.port, host="nobody.invalid")  # RFC 6761: no such name, ever.
    says(box.found()["broker"], State.CARE, "the name nobody.invalid leads nowhere")
    box = Sick(own, broker.port, "tls = true\n")
    words = (f"no TLS is spoken at 127.0.0.1:{broker.port}", "8883")
    says(box.found()["broker"], State.CARE, *words)


@pytest.fixture(scope="module")
def signed(memory: Path) -> Path:
    """A folder with two authorities, and certificates of the first."""
    folder = memory / "signed"
    folder.mkdir()
    for name in ("club", "other"):
        authority(folder, name)
    certificate(folder, "club", "soon", days=5)
    certificate(folder, "club", "long", days=MONTH_DAYS)
    certificate(folder, "club", "expired", days=-1)
    certificate(folder, "club", "elsewhere", days=MONTH_DAYS, called="DNS:broker.local")
    return folder


@pytest.mark.parametrize(
    ("name", "ca", "state", "words"),
    [
        ("long", "club.pem", State.WELL, ("takes the password of west",)),
        ("soon", "club.pem", State.CARE, ("runs out on", "have a new one made")),
        ("expired", "club.pem", State.CARE, ("has run out", "this machine's clock says")),
        ("elsewhere", "club.pem", State.CARE, ("is for another name", "call the broker what")),
        ("long", "other.pem", State.CARE, ("was not signed by whom", "other.pem")),
        ("long", None, State.CARE, ("signed by nobody whom this machine knows", "ca =")),
        ("long", "absent.pem", State.CARE, ("certificate can't be read", "PEM file")),
    ],
    ids=["well", "soon", "expired", "elsewhere", "another-signer", "no-ca", "absent-ca"],
)
def test_what_is_wrong_with_a_certificate_is_told_in_plain_words(
    own: Path, signed: Path, name: str, ca: str | None, state: State, words: tuple[str, ...]
) -> None:
    made = Mosquitto(
        own / "broker",
        {"west": password_of("west")},
        certificates=(signed / f"{name}.pem", signed / f"{name}.key"),
    )
    made.start()
    try:
        box = Sick(own, made.port, f'ca = "{signed / ca}"\n' if ca else "tls = true\n")
        says(box.found()["broker"], state, *words)
    finally:
        made.stop()


def test_a_broker_that_speaks_tls_to_one_who_does_not(own: Path, signed: Path) -> None:
    words = {"west": password_of("west")}
    pair = (signed / "long.pem", signed / "long.key")
    made = Mosquitto(own / "broker", words, certificates=pair)
    made.start()
    try:
        says(Sick(own, made.port).found()["broker"], State.CARE, "hangs up", "8883 is usual")
    finally:
        made.stop()


def test_the_command_looks_at_a_boxs_part_in_a_club(
    own: Path, broker: Mosquitto, capsys: pytest.CaptureFixture[str]
) -> None:
    box = Sick(own, broker.port)
    said = told(box.layout, capsys)
    parts = [line.split()[0] for line in said.splitlines() if not line.startswith(" ")]
    assert parts[2:7] == ["screen", "password", "broker", "courier", "logbook"]


# A board host.


def board_file(folder: Path, broker: Mosquitto, logbook: str) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / "club.toml"
    path.write_text(BOARD.format(name="board", host=broker.host, port=broker.port, logbook=logbook))
    secret = folder / "board.credentials"
    secret.touch(mode=0o600)
    secret.write_text(f'password = "{password_of("board")}"\n')
    return path


def told(path: Path, capsys: pytest.CaptureFixture[str]) -> str:
    capsys.readouterr()
    assert report(str(path), Path("/")) == NEEDS_CARE  # No screen runs here.
    return capsys.readouterr().out


def test_a_board_host_and_each_of_its_boxes(
    own: Path, broker: Mosquitto, capsys: pytest.CaptureFixture[str]
) -> None:
    path = board_file(own, broker, "board.sqlite")
    first = told(path, capsys)
    assert "no gatherer runs on this database" in first
    assert f"there is no file {own / 'board.sqlite'}" in first
    where = ["--board", str(path)]
    gatherer = Process("firmware_py.service.gathering_process", where, own / "board.log")
    box = Sick(own / "west", broker.port)
    gatherer.start()
    box.courier.start()
    database = str(own / "board.sqlite")

    def record() -> GathererHealth | None:
        return read(path_of(database, GathererHealth), GathererHealth)

    try:
        until(lambda: (one := record()) is not None and one.boxes.get("west") == "absent")
        said = told(path, capsys)
        assert "gatherer well       it hears the broker as board, and writes" in said
        assert f"database well       {database} can be read and written; it has 1 box" in said
        assert "broker   well" in said
        assert "West (west): has no engine; treat its switches as red; last heard" in said
        box.courier.stop()
        until(lambda: (one := record()) is not None and one.boxes.get("west") == "gone")
        assert "West (west): switched off or cut off" in told(path, capsys)
    finally:
        box.courier.stop()
        gatherer.stop()
    last = told(path, capsys)
    assert "West (west): not known while no gatherer runs; last heard" in last


def test_a_boards_file_that_is_wrong_is_told_as_one(
    own: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = own / "club.toml"
    path.write_text("[board]\nname = 'board'\n")
    assert report(str(path), Path("/")) == 2
    assert "broker" in capsys.readouterr().err


def test_a_database_that_is_no_boards_or_is_not_there(own: Path) -> None:
    def found(logbook: str) -> Finding:
        return board_host.database(Case(logbook, None, Path("/"), wall_us, steady_us))[0]

    (own / "empty.sqlite").touch()
    says(found(str(own / "empty.sqlite")), State.CARE, "has no board in it")
    (own / "text.sqlite").write_text("no database " * 200)
    says(found(str(own / "text.sqlite")), State.CARE, "can't be used")
    says(found("nosuch://x"), State.CARE, "can't be opened")
    server = database_in(own / "database")
    server.start()
    try:
        url = server.url
        says(found(url), State.CARE, "has no board in it")
        open_engine(url).dispose()
        says(found(url), State.WELL, "can be read and written; it has 0 boxes")
        open_engine(url).dispose()
        reader = url + ("&" if "?" in url else "?")
        reader += "options=-c%20default_transaction_read_only%3Don"
        says(found(reader), State.CARE, "can't be written", "the user who runs the board")
    finally:
        server.stop()
    says(found(url), State.CARE, "start the database")

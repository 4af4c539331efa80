"""A box's part in a club: its password, its broker, and its courier."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from firmware_py.club.credentials import Broker, ClubError, read_password
from firmware_py.health.record import (
    STALE_AFTER_S,
    CourierHealth,
    GathererHealth,
    boot_id,
    path_of,
    read,
)
from firmware_py.layout.node import Node
from firmware_py.service.doctor.findings import Case, Finding, care, span, untold, well
from firmware_py.service.doctor.reaching import Unreached, reach

TAKEN_LATELY_S = 600.0
LAST_DAYS = 14
START_COURIER = (
    "start it: spurlock run LAYOUT, or systemctl start spurlock-courier on an installed box "
    "(one that has joined its club since has that service after spurlock upgrade)"
)


def box(case: Case, node: Node, folder: Path) -> list[Finding]:
    """What is to be said of a box with this ``[node]`` table, whose layout is in ``folder``."""
    record = read(path_of(case.logbook, CourierHealth, case.root), CourierHealth)
    fresh = record if is_fresh(case, record) else None
    return [*speaking(case, node, folder, fresh), courier(case, record)]


def speaking(
    case: Case, node: Node, folder: Path, fresh: CourierHealth | GathererHealth | None
) -> list[Finding]:
    """The password, and the broker; ``fresh`` is what its courier or gatherer says of itself now.

    Where that is connected nobody else logs in by its name, for that would cut it off.
    """
    path = folder / Path(node.credentials).expanduser()
    secret, finding = password(case, path)
    ca = folder / Path(node.ca).expanduser() if node.ca else None
    connected = fresh is not None and fresh.trouble is None
    if secret is None and not connected:
        return [finding, untold("broker", "not tried: the password can't be read")]
    speaks = Broker(node.host, node.port, node.name, secret or "", node.tls, ca)
    return [finding, broker(case, speaks, connected=connected)]


def password(case: Case, path: Path) -> tuple[str | None, Finding]:
    """The password, and whether its file is readable by whom it should be and by nobody else."""
    try:
        owner = path.stat().st_uid
        with path.open("rb"):
            pass
    except PermissionError:
        do = "ask as the user whose it is: sudo -u spurlock spurlock doctor ... on an installed one"
        return None, care("password", f"{path}: this user can't read it", do)
    except OSError:
        owner = None
    try:
        secret = read_password(path)
    except ClubError as error:
        says, _, do = str(error).partition("; ")
        return None, care("password", says, do)
    theirs = case.file.stat().st_uid if case.file is not None and case.file.exists() else owner
    if owner != theirs:
        do = f"give it to that user: chown --reference={case.file} {path}"
        says = f"{path} does not belong to the user whose the logbook is, and who has to read it"
        return secret, care("password", says, do)
    return secret, well("password", f"{path} is there, and only its owner can read it")


def broker(case: Case, speaks: Broker, *, connected: bool) -> Finding:
    """Whether the broker answers, is believed, and takes the password."""
    found = reach(speaks, log_in=not connected)
    if isinstance(found, Unreached):
        return care("broker", found.says, found.do)
    says = f"{speaks.host}:{speaks.port} answers, and takes the password of {speaks.user}"
    if found.expires is not None:
        now = datetime.fromtimestamp(case.wall_us() / 1_000_000, UTC)
        if (left := (found.expires - now).days) < LAST_DAYS:
            says = f"{says}; but its certificate runs out on {found.expires:%Y-%m-%d}"
            return care("broker", f"{says}, in {max(left, 0)} days", "have a new one made, there")
    return well("broker", says)


def courier(case: Case, record: CourierHealth | None) -> Finding:
    """How the courier fares, and when it last spoke."""
    if record is None or record.boot != boot_id(case.root):
        return care("courier", "no courier runs on this logbook", START_COURIER)
    if not is_fresh(case, record):
        says = f"nothing was heard of it for {span(_ago_s(case, record.at_us))}"
        return care("courier", says, START_COURIER)
    if record.logbook is not None:
        do = "see logbook and disk; it goes on by itself after that"
        return care("courier", f"it can't read the logbook: {record.logbook}", do)
    spoke = (
        "it has not told the board anything since it began"
        if record.spoke_us is None
        else f"it last told the board how this box fares {span(_ago_s(case, record.spoke_us))} ago"
    )
    if record.taken_us is not None and _ago_s(case, record.taken_us) < TAKEN_LATELY_S:
        ago = span(_ago_s(case, record.taken_us))
        says = f"a second box seems to call itself {record.node}: this one was cut off {ago} ago"
        do = "switch one of them off, or give it a [node] name and a password of its own"
        return care("courier", f"{says}; {spoke}", do)
    if record.trouble is not None:
        return care("courier", f"{record.trouble}; {spoke}", "see broker")
    return well("courier", f"{spoke}, as {record.node}")


def is_fresh(case: Case, record: CourierHealth | GathererHealth | None) -> bool:
    """Whether a record was written just now, and on this boot of the machine."""
    if record is None or record.boot != boot_id(case.root):
        return False
    return _ago_s(case, record.at_us) <= STALE_AFTER_S


def _ago_s(case: Case, at_us: int) -> float:
    return max(0.0, (case.steady_us() - at_us) / 1_000_000)

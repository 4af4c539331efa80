"""A box's courier as a process of its own; ``spurlock run`` starts it for a box of a club."""

from __future__ import annotations

import argparse
import logging
import os
import sys
from pathlib import Path

from firmware_py.club.courier import LOOK_EVERY_S, Courier
from firmware_py.club.credentials import Broker, ClubError, read_password
from firmware_py.club.link import Link, Will
from firmware_py.club.messages import Health, encode
from firmware_py.club.topics import Said, everything_told, said
from firmware_py.health.record import CourierHealth, boot_id, now_us, path_of
from firmware_py.layout.errors import LayoutError
from firmware_py.layout.node import Node
from firmware_py.layout.reading import read_layout
from firmware_py.logbook.errors import LogbookError
from firmware_py.logbook.incarnation import incarnation_of
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.writing import wall_now_us
from firmware_py.service.telling import Telling
from firmware_py.service.told import listen_for_stop

UNREADABLE = 2


def main(argv: list[str] | None = None) -> int:
    """Carry until SIGTERM or SIGINT; answers the exit status."""
    args = _parser().parse_args(argv)
    logging.basicConfig(level=logging.WARNING, format="courier: %(message)s")
    try:
        node = _node(args.layout)
        broker = broker_of(node, args.layout.parent)
        return _carry(node.name, broker, args.logbook)
    except (LayoutError, LogbookError, ClubError) as error:
        print(error, file=sys.stderr)
        return UNREADABLE


def _node(layout: Path) -> Node:
    node = read_layout(layout).node
    if node is None:
        raise ClubError(f"{layout}: there is no [node] table, so nobody to carry for")
    return node


def broker_of(node: Node, folder: Path) -> Broker:
    """How a box reaches its broker; its files lie in the layout's folder. Raises ``ClubError``."""
    password = read_password(folder / Path(node.credentials).expanduser())
    ca = folder / Path(node.ca).expanduser() if node.ca else None
    return Broker(node.host, node.port, node.name, password, node.tls, ca)


def _carry(node: str, broker: Broker, logbook: str) -> int:
    told = listen_for_stop()
    engine = open_engine(logbook)
    will = Health(here=False, incarnation=incarnation_of(engine))
    last_will = Will(said(node, Said.HEALTH), encode(will))
    link = Link(broker, [everything_told(node)], last_will)
    courier = Courier(node, engine, link, wall_us=wall_now_us)
    telling = Telling(path_of(logbook, CourierHealth))
    link.start()
    try:
        while not told():
            telling.tell(lambda: _health(node, courier, link))
            link.news.wait(LOOK_EVERY_S)
            link.news.clear()
            courier.turn()
        telling.stopping()
        courier.farewell()
    finally:
        link.stop()
        courier.close()
        engine.dispose()
    return 0


def _health(node: str, courier: Courier, link: Link) -> CourierHealth:
    return CourierHealth(
        os.getpid(),
        boot_id(),
        now_us(),
        node,
        trouble=None if link.ready else link.trouble,
        logbook=courier.trouble,
        spoke_us=_us(courier.spoke_s),
        taken_us=_us(link.taken_s),
    )


def _us(seconds: float | None) -> int | None:
    return None if seconds is None else round(seconds * 1_000_000)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m firmware_py.service.courier_process", description=__doc__
    )
    parser.add_argument("--layout", type=Path, required=True)
    parser.add_argument("--logbook", required=True)
    return parser


if __name__ == "__main__":
    sys.exit(main())

"""The record of a commissioning: what is signed, at the terminal or by a page, and printing it."""

from __future__ import annotations

import argparse
from datetime import datetime
from typing import TextIO

from firmware_py import __version__
from firmware_py.commands.commission_sitting import Sitting
from firmware_py.commands.commission_words import Ended, SignedError
from firmware_py.commissioning.commission import Commission
from firmware_py.commissioning.record import record_lines
from firmware_py.commissioning.showing import Usual, usual_of
from firmware_py.layout.errors import printable
from firmware_py.layout.model import Layout
from firmware_py.logbook import commissioning as kept
from firmware_py.logbook.texts import storable


def usual(args: argparse.Namespace, layout: Layout, commission: Commission) -> Usual:
    """What the record says unless its builder has something else to say."""
    pins = "simulated pins" if args.simulated else "real pins"
    equipment = f"Spurlock {__version__}, {pins}"
    return usual_of(commission, args.by or "", args.place or layout.name, equipment)


def sign(
    args: argparse.Namespace,
    layout: Layout,
    sitting: Sitting,
    ended: Ended,
    dates_us: tuple[int, int],
) -> kept.Signed | None:
    """What the builder signs, wherever he does; ``None`` if he gives no name at the terminal.

    ``dates_us`` are when it is signed and when the next is due, in microseconds of wall time.
    """
    said = usual(args, layout, sitting.commission)
    if ended is Ended.SIGNED:
        return _by_page(sitting, said, dates_us)
    try:
        by = args.by or sitting.ask("By whom")
        if not by:
            return None
        return kept.Signed(
            place=args.place or sitting.ask("Place", said.place),
            by_whom=by,
            equipment=sitting.ask("Equipment", said.equipment),
            results=said.results,
            repairs=sitting.ask("Repairs made", said.repairs),
            condition_left=sitting.ask("Condition left", said.condition_left),
            signed_wall_us=dates_us[0],
            due_wall_us=dates_us[1],
        )
    except SignedError:
        sitting.say("the phone was first: it has signed the record")
        return _by_page(sitting, said, dates_us)


def print_record(record: kept.CommissioningRecord, out: TextIO) -> None:
    """Print a signed record."""
    signed = record.signed
    assert signed is not None, "only signed ones are records"
    found = "\n".join(f"{one['text']}; {one['do']}" for one in record.findings)
    pins = " (simulated pins)" if record.simulated else ""
    fields = (
        ("Place", signed.place),
        ("Date", _day(signed.signed_wall_us)),
        ("By whom", signed.by_whom),
        ("Equipment", signed.equipment),
        ("Found", found),
        ("Repairs", signed.repairs),
        ("Condition left", signed.condition_left),
        ("Next due", _day(signed.due_wall_us)),
        ("Results", signed.results),
    )
    title = f"Commissioning {record.id}: {record.layout_name}{pins}"
    print(file=out)
    for line in record_lines(title, fields):
        print(printable(line), file=out, flush=True)


def _by_page(sitting: Sitting, said: Usual, dates_us: tuple[int, int]) -> kept.Signed | None:
    if sitting.pages is None or sitting.pages.signing is None:
        return None
    _, signing = sitting.pages.signing
    return kept.Signed(
        place=_or(signing.place, said.place),
        by_whom=_or(signing.by_whom, said.by_whom),
        equipment=_or(signing.equipment, said.equipment),
        results=said.results,
        repairs=_or(signing.repairs, said.repairs),
        condition_left=_or(signing.condition_left, said.condition_left),
        signed_wall_us=dates_us[0],
        due_wall_us=dates_us[1],
    )


def _or(written: str, said: str) -> str:
    return storable(written.strip().replace("\r\n", "\n")) or said


def _day(wall_us: int) -> str:
    return f"{datetime.fromtimestamp(wall_us / 1_000_000):%Y-%m-%d}"

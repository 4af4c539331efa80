"""``python -m tests.crash [KILLS=500] [--seed N]``: kills the engine, and judges what is left.

The engine, on simulated pins and with crews in a hurry, is killed with SIGKILL at random instants,
those of its start and its coming back among them, and the screen likewise. After every kill the
files are judged (``checking.py`` says how). It stops at the first thing that is wrong, says what,
and keeps the logbook, what the page was given, and what the processes printed. The exit status is
0 if nothing was.
"""

from __future__ import annotations

import argparse
import json
import shutil
import sys
import tempfile
import time
import traceback
from collections.abc import Sequence
from pathlib import Path

from tests.crash.evening import Evening, Figures

KILLS_AN_EVENING = 50
PACE = 60.0


def main(arguments: Sequence[str] | None = None) -> int:
    """Kill as often as the command line says."""
    parser = argparse.ArgumentParser(prog="python -m tests.crash", description=__doc__)
    parser.add_argument("kills", type=int, nargs="?", default=500)
    parser.add_argument("--seed", type=int, default=None)
    args = parser.parse_args(arguments)
    seed = time.time_ns() % 1_000_000 if args.seed is None else args.seed
    print(f"{args.kills} kills, seed {seed} (the instants are the machine's own)", flush=True)
    began = time.monotonic()
    whole = Figures()
    while whole.engine_kills < args.kills:
        kills = min(KILLS_AN_EVENING, args.kills - whole.engine_kills)
        folder = Path(tempfile.mkdtemp(prefix="spurlock-crash-"))
        evening = Evening(folder, seed + whole.engine_kills, PACE, _say)
        try:
            evening.run(kills)
        except BaseException as trouble:
            keep(folder, evening)
            traceback.print_exc()
            print(
                f"\nBROKEN at seed {seed}, kill {whole.engine_kills + evening.figures.engine_kills}"
            )
            print(f"{trouble}\nEverything is kept in {folder}")
            return 1
        whole.add(evening.figures)
        shutil.rmtree(folder)
        _say(f"{whole.engine_kills} kills, {time.monotonic() - began:.0f} s, nothing wrong")
    print(summary(whole, time.monotonic() - began))
    return 0


def keep(folder: Path, evening: Evening) -> None:
    """Put beside the logbook what the page was given."""
    page = evening.scene.page
    lines = [json.dumps([entry.id, entry.line, entry.late_s]) for entry in page.delivered()]
    (folder / "delivered.jsonl").write_text("\n".join(lines), "utf-8")
    (folder / "shown.json").write_text(json.dumps([sorted(some) for some in page.shown()]))


def summary(figures: Figures, lasted_s: float) -> str:
    """All figures in words."""
    kinds = ", ".join(f"{count} {kind}" for kind, count in figures.kinds.most_common())
    aims = ", ".join(f"{count} at {aim}" for aim, count in figures.aims.most_common())
    return f"""
{figures.engine_kills} kills of the engine ({figures.kills_in_start} aimed at its start or return) \
and {figures.screen_kills} of the screen, in {lasted_s / 60:.1f} minutes: nothing wrong
aimed: {aims}
{figures.integrity_checks} integrity checks; {figures.quiet_starts} returns in quiet
{figures.entries} entries logged ({kinds})
{figures.tape_lines} lines of tape; {figures.violations} violations
{figures.delivered} entries delivered to the page over {figures.connections} connections
{figures.requests} requests, {figures.answered} answered
{figures.cut_between} kills fell between a tape line and its entries; {figures.unlogged} entries \
were written after the return
{figures.contacts_agreed} times a contact, {figures.stages_judged} times a switch was judged"""


def _say(text: str) -> None:
    print(text, flush=True)


if __name__ == "__main__":
    sys.exit(main())

"""``python -m tests.forecast calibrate|bench``: the long runs of the forecast.

``calibrate [EVENINGS] [--seed N]`` forecasts and plays evenings one after another (300), and says
how many facts fell inside the 80 % band. The exit status is 1 outside 74 to 86 per cent.
``bench [EVENINGS]`` forecasts ten jobs and four crews (10,000 evenings) and tells the time, as a
ratio to simpy's bare timeouts in the same process too, and the memory at two sizes.
"""

from __future__ import annotations

import argparse
import gc
import resource
import sys
import time
from random import Random

import simpy

from firmware_py.forecast.answering import answered
from firmware_py.forecast.drawing import Drawing
from firmware_py.forecast.simulating import play
from firmware_py.forecast.sources import Sources
from tests.forecast.calibrating import Compared, compared
from tests.forecast.forecast_evenings import Group, bank, question_of

LEAST, MOST = 0.74, 0.86


def calibrate(count: int, seed: int, evenings: int, warming: int) -> int:
    found: list[Compared] = []
    for one in compared(seed, count, evenings, warming):
        found.append(one)
        if len(found) % 50 == 0:
            share = sum(each.inside for each in found) / len(found)
            print(f"{len(found)} evenings: {share:.1%} inside the 80 % band", flush=True)
    share = sum(one.inside for one in found) / count
    unbent = sum(0.1 <= one.place <= 0.9 for one in found) / count
    print(f"{count} evenings, seed {seed}: {share:.1%} inside the 80 % band")
    print(f"without what earlier evenings taught: {unbent:.1%}")
    outside = [one for one in found if not one.inside]
    held = sum(one.inside_bounds for one in outside)
    print(f"of {len(outside)} facts outside, {held} inside the band of wholly tied times")
    for one in outside[:12]:
        whole = one.answer.whole
        print(
            f"  fact {one.fact_s / 60:5.0f} min; band {whole.low.value / 60:.0f} to "
            f"{whole.high.value / 60:.0f}; independent {whole.independent.low / 60:.0f} to "
            f"{whole.independent.high / 60:.0f}; tied {whole.together.low / 60:.0f} to "
            f"{whole.together.high / 60:.0f}"
        )
    return 0 if LEAST <= share <= MOST else 1


def bench(count: int) -> int:
    group = Group(Random(1), crews=4)
    past = [one for _ in range(10) for one in group.play(group.jobs()).past]
    question = question_of(group, bank()[:10], past, evenings=count, scales=(0.5, 1, 2.45, 6))
    stops = sum(len(job.stops) for job in question.jobs)
    print(f"10 jobs with {stops} stops, 4 crews, {len(past)} rounds in the log")
    bare = _bare()
    gc.freeze()  # As the forecast's own process does.
    for some in (count // 10, count):
        began, cpu = time.perf_counter(), time.process_time()
        drawing = Drawing(question, Sources(question.past, question.spurs), 1.0)
        play(question, question.jobs, drawing, some)
        _told(f"{some} evenings simulated", began, cpu, bare)
    began, cpu = time.perf_counter(), time.process_time()
    answered(question)
    _told(f"the whole answer ({count} evenings, bounds, dial, jobs to leave out)", began, cpu, bare)
    return 0


def _told(what: str, began: float, cpu: float, bare: float) -> None:
    wall, used = time.perf_counter() - began, time.process_time() - cpu
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"{what}: {wall:.1f} s, {used:.1f} s of CPU ({used / bare:.1f} times a million bare "
        f"timeouts), {peak:.0f} MiB at most"
    )


def _bare() -> float:
    """Seconds of CPU for a million of simpy's timeouts: the baseline."""

    def ticking(env: simpy.Environment):  # type: ignore[no-untyped-def] # noqa: ANN202
        for _ in range(100_000):
            yield env.timeout(1.0)

    env = simpy.Environment()
    env.process(ticking(env))
    began = time.process_time()
    env.run()
    return 10 * (time.process_time() - began)


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.forecast")
    parser.add_argument("what", choices=("calibrate", "bench"))
    parser.add_argument("count", type=int, nargs="?")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--evenings", type=int, default=200, help="simulated for each forecast")
    parser.add_argument("--warming", type=int, default=0, help="evenings played before the first")
    args = parser.parse_args()
    if args.what == "bench":
        return bench(args.count or 10_000)
    return calibrate(args.count or 300, args.seed, args.evenings, args.warming)


if __name__ == "__main__":
    sys.exit(main())

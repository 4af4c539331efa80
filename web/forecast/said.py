"""A forecast in plain words. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from firmware_py.forecast.words import Answer, Bottleneck, Figure


def hours(seconds: float) -> str:
    """A time from the session's opening, to the minute.

    >>> hours(5430), hours(0)
    ('1:31', '0:00')
    """
    minutes = max(0, round(seconds / 60))
    return f"{minutes // 60}:{minutes % 60:02}"


def length(seconds: float) -> str:
    """How long something lasts, to the minute.

    >>> length(20), length(90), length(7260)
    ('20 s', '2 min', '2 h 01 min')
    """
    if seconds < 59.5:
        return f"{seconds:.0f} s"
    minutes = round(seconds / 60)
    return f"{minutes} min" if minutes < 60 else f"{minutes // 60} h {minutes % 60:02} min"


def percent(share: float) -> str:
    """A chance, which is never told as surer than it is.

    >>> percent(0.5), percent(0.999), percent(0.001)
    ('50 %', '99 %', '1 %')
    """
    return f"{min(max(round(100 * share), 1), 99)} %"


def give_or_take(figure: Figure) -> str:
    """The error of a chance.

    >>> give_or_take(Figure(0.5, 0.031))
    '± 3'
    """
    return f"± {max(1, round(100 * figure.error))}"


def in_ten(share: float) -> str:
    """A chance as people say it.

    >>> in_ten(0.72), in_ten(0.999), in_ten(0.0)
    ('on 7 of 10 evenings', 'on almost every evening', 'on almost no evening')
    """
    if share >= 0.98:
        return "on almost every evening"
    if share <= 0.02:
        return "on almost no evening"
    if share >= 0.945:
        return "on 19 of 20 evenings"
    if share < 0.055:
        return "on 1 of 20 evenings"
    return f"on {round(10 * share)} of 10 evenings"


def lead(answer: Answer) -> str:
    """The answer in one sentence."""
    whole = answer.whole
    few = {1: "The job is", 2: "Both jobs are"}
    jobs = few.get(len(answer.jobs), f"All {len(answer.jobs)} jobs are")
    return f"{jobs} done in time {in_ten(whole.chance.value)}."


def middle(answer: Answer) -> str:
    """When it ends."""
    whole = answer.whole
    low, high = hours(whole.low.value), hours(whole.high.value)
    between = f"on 8 of 10 evenings it is between {low} and {high}"
    return f"The last train is home about {hours(whole.middle.value)} after the start; {between}."


def to_leave_out(answer: Answer) -> str:
    """Which jobs to leave out."""
    names = {one.job: one.name for one in answer.jobs}
    choice, wanted = answer.leave_out, f"{100 * answer.chance_wanted:.0f} %"
    if not choice.jobs:
        if choice.reached:
            return f"Nothing has to be left out for the {wanted} that you want."
        return f"One job alone does not reach the {wanted} that you want; give it more time."
    listed = _and([names[job] for job in choice.jobs])
    then = percent(choice.chance.value)
    if choice.reached:
        return f"Leave out {listed}: then the rest is done in time with {then}."
    return f"Even with {listed} left out it is only {then}; give the evening more time."


def held_up(answer: Answer) -> Iterator[str]:
    """What crews wait for, the longest first."""
    names = {one.job: one.name for one in answer.jobs}
    for one in answer.bottlenecks[:4]:
        yield _held_up(one, names)


def _held_up(one: Bottleneck, names: Mapping[int, str]) -> str:
    lost = length(one.waited_s.value)
    busy = f"{100 * one.busy:.0f} % of the time somebody has "
    if one.what == "foreman":
        return f"The foreman: crews wait {lost} in all for his turn; {busy}his ear."
    who = _and([names[job] for job in one.jobs[:4]])
    more = f" and {len(one.jobs) - 4} more" if len(one.jobs) > 4 else ""
    return f"{one.name}: {who}{more} want it, and crews wait {lost} in all; {busy}it."


def known(answer: Answer) -> str:
    """What it is built on."""
    measured = sum(one.measured for one in answer.known)
    steps = f"{measured} of {len(answer.known)} step times are measured on this layout"
    if not answer.sessions:
        return (
            "There is no log of this layout yet, so that all of it is a guess from what is usual. "
            "Each evening makes it better."
        )
    sessions = "1 evening" if answer.sessions == 1 else f"{answer.sessions} evenings"
    rest = "" if measured == len(answer.known) else "; the others are estimates until there are 20"
    taught = ""
    if answer.lessons:
        count = "1 forecast" if answer.lessons == 1 else f"{answer.lessons} forecasts"
        taught = f" {count} before this one came with its fact, and corrected it."
    return f"From {sessions}: {steps}{rest}.{taught}"


def _and(names: list[str]) -> str:
    *most, last = names
    return f"{', '.join(most)} and {last}" if most else last

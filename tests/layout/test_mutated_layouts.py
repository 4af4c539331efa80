"""However the demo's layout is mangled, reading it gives a layout or a `LayoutError`."""

from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import firmware_py
from firmware_py.layout.advice import advice_on
from firmware_py.layout.errors import LayoutError, Problem
from firmware_py.layout.reading import parse_layout
from firmware_py.layout.silence import silent_rules
from firmware_py.layout.summary import summary

DEMO = Path(firmware_py.__file__).parent / "demo" / "layouts" / "wendlebeck.toml"
TEXT = DEMO.read_text(encoding="utf-8")
LINES = TEXT.splitlines()

VALUES = st.sampled_from(
    (
        *("", "true", "-1", "0", "28", "1e999", "nan", "1979-05-27", "9" * 5000),
        *('"auto"', '"a:1"', '""', '"foreman"', '"sawmill"'),
        *("[]", "[[]]", "[1, 2]", '["foreman"]', "{}", "{ pin = 5 }"),
    )
)


@st.composite
def mutated(draw: st.DrawFn) -> str:
    lines = list(LINES)
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, len(lines) - 1))
        other = draw(st.integers(0, len(lines) - 1))
        match draw(st.sampled_from(["drop", "repeat", "move", "value", "key", "cut"])):
            case "drop":
                del lines[at]
            case "repeat":
                lines.insert(other, lines[at])
            case "move":
                lines[at], lines[other] = lines[other], lines[at]
            case "value":
                lines[at] = f"{lines[at].partition('=')[0]}= {draw(VALUES)}"
            case "key":
                value = lines[at].partition("=")[2]
                lines[at] = f"{lines[other].partition('=')[0]}={value}"
            case _:
                lines[at] = lines[at][: draw(st.integers(0, len(lines[at])))]
    return "\n".join(lines)


def judge(text: str) -> None:
    problems = problems_of(text)
    assert all(len(str(problem).splitlines()) == 1 for problem in problems)
    last = text.count("\n") + 1
    assert all(problem.line is None or 1 <= problem.line <= last for problem in problems)


def problems_of(text: str) -> tuple[Problem, ...]:
    """The problems of a text; a text without any is judged and summed up as well."""
    try:
        layout = parse_layout(text, "mangled.toml")
    except LayoutError as error:
        return error.problems
    silent_rules(layout)
    advice_on(layout)
    list(summary(layout))
    return ()


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(mutated())
def test_mangled_lines(text: str) -> None:
    judge(text)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, len(TEXT)), st.integers(0, 12), st.text(max_size=6))
def test_mangled_characters(at: int, gone: int, put: str) -> None:
    judge(TEXT[:at] + put + TEXT[at + gone :])

"""The traceability table: no rule with a gap, and the page shows what is so now."""

from firmware_py.core.names import Rule
from firmware_py.proof.properties import PROPERTIES
from tests.proof.tracing import TABLE, gaps, rows, written


def test_no_row_has_a_gap() -> None:
    assert gaps(rows()) == []


def test_a_gap_is_noticed() -> None:
    holed = [row | {"tests": []} for row in rows()[:1]]
    assert gaps(holed) == ["moved-while-locked: tests"]


def test_every_rule_has_its_row() -> None:
    assert [row["what"] for row in rows()][: len(Rule)] == [rule.value for rule in Rule]


def test_the_page_reads_the_table_as_it_is_generated() -> None:
    assert TABLE.read_text(encoding="utf-8") == written(), "run python -m tests.proof.tracing"


def test_every_property_says_where_it_comes_from() -> None:
    assert [it.number for it in PROPERTIES] == list(range(1, 8))
    assert all(it.says and it.sources for it in PROPERTIES)

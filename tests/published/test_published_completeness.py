"""No rule without a test that names where it comes from; the table is rules_and_sources.toml."""

import ast
import tomllib
from pathlib import Path
from typing import Any

import pytest

from firmware_py.core.names import Rule

FOLDER = Path(__file__).parent
TABLE: dict[str, dict[str, Any]] = tomllib.loads(
    (FOLDER / "rules_and_sources.toml").read_text(encoding="utf-8")
)
SOURCES: dict[str, str] = TABLE["sources"]
ENTRIES: dict[str, dict[str, list[str]]] = {**TABLE["rules"], **TABLE["others"]}


def _tests_of_this_folder() -> dict[str, str]:
    """Every test function of the folder, with its docstring on one line."""
    found: dict[str, str] = {}
    for path in sorted(FOLDER.glob("test_*.py")):
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.FunctionDef) and node.name.startswith("test_"):
                assert node.name not in found, f"{node.name} is there twice"
                found[node.name] = " ".join((ast.get_docstring(node) or "").split())
    return found


TESTS = _tests_of_this_folder()


def test_every_rule_is_in_the_table_and_no_other() -> None:
    assert list(TABLE["rules"]) == [rule.value for rule in Rule]


@pytest.mark.parametrize("name", ENTRIES)
def test_what_the_table_names_exists(name: str) -> None:
    entry = ENTRIES[name]
    assert entry["sources"]
    assert entry["tests"]
    assert set(entry["tests"]) <= set(TESTS)
    assert set(entry["sources"]) <= set(SOURCES)


@pytest.mark.parametrize("name", ENTRIES)
def test_every_source_is_named_by_a_test_that_says_how_it_was_read(name: str) -> None:
    docstrings = [TESTS[test] for test in ENTRIES[name]["tests"]]
    for source in ENTRIES[name]["sources"]:
        read = SOURCES[source]
        assert any(source in text and read in _plain(text) for text in docstrings), source


@pytest.mark.parametrize("name", TABLE["rules"])
def test_every_rule_is_raised_by_one_of_its_tests(name: str) -> None:
    """The rule's name stands, as a whole string, in the text of one of its tests."""
    bodies = _texts_of_this_folder()
    assert any(name in bodies[test] for test in ENTRIES[name]["tests"])


def test_no_source_is_idle_and_no_published_test_is_unlisted() -> None:
    used = {source for entry in ENTRIES.values() for source in entry["sources"]}
    assert used == set(SOURCES)
    listed = {test for entry in ENTRIES.values() for test in entry["tests"]}
    cited = {name for name in TESTS if name.startswith(("test_49cfr", "test_gcor", "test_iec"))}
    assert cited <= listed


def test_every_other_test_says_where_it_comes_from() -> None:
    here = {node for node in TESTS if f"def {node}" in Path(__file__).read_text(encoding="utf-8")}
    silent = [name for name in sorted(set(TESTS) - here) if "Source: " not in TESTS[name]]
    assert silent == []


def _plain(docstring: str) -> str:
    return docstring.replace(": 2015 annual", " 2015 annual")


def _texts_of_this_folder() -> dict[str, set[str]]:
    """The strings that stand in each test function's body."""
    texts: dict[str, set[str]] = {}
    for path in sorted(FOLDER.glob("test_*.py")):
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.FunctionDef):
                texts[node.name] = {
                    part.value
                    for part in ast.walk(node)
                    if isinstance(part, ast.Constant) and isinstance(part.value, str)
                }
    return texts

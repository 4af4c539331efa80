"""The traceability table, generated: rule by rule from its published source to its tests.

``python -m tests.proof.tracing`` writes it anew where the page reads it. A row with a gap fails
``test_proof_tracing.py``.
"""

from __future__ import annotations

import ast
import json
import tomllib
from pathlib import Path
from typing import Any

from firmware_py.core.names import Rule
from web.live.reasons import REASONS

ROOT = Path(__file__).parents[2]
TABLE = ROOT / "web" / "proof" / "traceability.json"
PUBLISHED = ROOT / "tests" / "published"
OUTPUTS = {
    "green": ("1", "49 CFR 236.5"),
    "red": ("1", "GCOR 8.2 and 8.3"),
    "white": ("3", "IEC 60073"),
    "lamp": ("3", "IEC 60073"),
    "bolt": ("2", "49 CFR 236.10"),
    "power": ("2", "49 CFR 236.813a"),
    "buzzer": ("5", "common practice"),
}
LAST_OF_SECTION_5 = Rule.KEY_ON_HOOK
UNPROVEN = {Rule.OVER_SPEED: "by tests alone: no lamp, bolt or next step depends on it"}

Row = dict[str, Any]


def rows() -> list[Row]:
    """Every row: what, title, sources, section, code, property, tests."""
    published = tomllib.loads((PUBLISHED / "rules_and_sources.toml").read_text(encoding="utf-8"))
    code = _where_raised()
    found = [_rule_row(rule, published["rules"], code) for rule in Rule]
    return found + [_output_row(name) for name in OUTPUTS]


def _rule_row(rule: Rule, published: dict[str, Any], code: dict[str, list[str]]) -> Row:
    is_first = list(Rule).index(rule) <= list(Rule).index(LAST_OF_SECTION_5)
    about = published.get(rule.value, {})
    return {
        "what": rule.value,
        "title": REASONS[rule.value].title if rule.value in REASONS else "",
        "sources": about.get("sources", []),
        "section": "5" if is_first else "6",
        "code": code.get(rule.name, []),
        "property": UNPROVEN.get(rule, "5"),
        "tests": [f"tests/published: {name}" for name in about.get("tests", [])],
    }


def _output_row(name: str) -> Row:
    number, source = OUTPUTS[name]
    return {
        "what": name,
        "title": f"What {name} shows",
        "sources": [source],
        "section": "9",
        "code": _functions_named(ROOT / "firmware_py/core", {name, f"fit_{name}"}),
        "property": number,
        "tests": _tests_that_say(name),
    }


def _where_raised() -> dict[str, list[str]]:
    """For each member of ``Rule``, the functions of the core that raise it."""
    found: dict[str, list[str]] = {}
    for file in sorted((ROOT / "firmware_py/core").glob("*.py")):
        if file.stem == "names":
            continue
        for thing in ast.parse(file.read_text(encoding="utf-8")).body:
            for inner in ast.walk(thing):
                if isinstance(inner, ast.Attribute) and getattr(inner.value, "id", "") == "Rule":
                    where = f"core/{file.name}: {getattr(thing, 'name', '')}"
                    if where not in found.setdefault(inner.attr, []):
                        found[inner.attr].append(where)
    return found


def _functions_named(folder: Path, names: set[str]) -> list[str]:
    return [
        f"core/{file.name}: {node.name}"
        for file in sorted(folder.glob("*.py"))
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8")))
        if isinstance(node, ast.FunctionDef) and node.name in names
    ]


def _tests_that_say(word: str) -> list[str]:
    found = []
    for file in sorted(PUBLISHED.glob("test_*.py")):
        for node in ast.parse(file.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.FunctionDef) and node.name.startswith("test_"):
                said = f"{node.name} {ast.unparse(node)}"
                if f"'{word}'" in said or f"_{word}_" in node.name:
                    found.append(f"tests/published: {node.name}")
    return [*found[:6], f"tests/oracle/shown.py: {word}"]


def gaps(found: list[Row]) -> list[str]:
    """What lacks something: each as ``row: column``."""
    columns = ("title", "sources", "section", "code", "property", "tests")
    return [f"{row['what']}: {column}" for row in found for column in columns if not row[column]]


def written() -> str:
    """The table as it stands in the file."""
    return json.dumps(rows(), indent=1) + "\n"


if __name__ == "__main__":
    TABLE.write_text(written(), encoding="utf-8")

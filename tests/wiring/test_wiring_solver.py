"""The planner against a constraint solver, on 200 random layouts of 4 to 150 contacts."""

from collections import Counter

import pytest
from wiring_layouts import random_layout

from firmware_py.layout.reading import parse_layout
from firmware_py.wiring.boards import Expanders
from firmware_py.wiring.planning import plan_for
from firmware_py.wiring.putting import with_plan

pytest.importorskip("ortools", reason="ortools is not installed: pip install -e '.[test]'")

from wiring_solver import broken_rules, fewest_chips

LAYOUTS = 200


@pytest.mark.timeout(600)
def test_a_plan_is_found_whenever_one_exists_and_breaks_no_rule() -> None:
    outcomes: Counter[str] = Counter()
    for seed in range(LAYOUTS):
        text, layout = random_layout(seed)
        assert 4 <= len(layout.contacts) <= 170
        expanders = list(Expanders)[seed % 3]
        fewest = fewest_chips(layout, expanders.value)
        plan = plan_for(layout, expanders)
        about = f"seed {seed}, {expanders}"
        if fewest is None:
            assert plan.reasons, f"{about}: a plan was made where none exists"
            assert not plan.placed
            outcomes["none exists"] += 1
            continue
        assert not plan.reasons, f"{about}: {plan.reasons}"
        assert len(plan.chips) == fewest, about
        after = parse_layout(with_plan(text, "planned", plan), "planned")
        assert broken_rules(layout, after, expanders.value) == [], about
        outcomes["with chips" if fewest else "without"] += 1
    assert min(outcomes[kind] for kind in ("none exists", "with chips", "without")) >= 15, outcomes


def edge(high: int, low: int, coils: int, contacts: int, lines: int) -> str:
    """Red lamps of either level, coils and contacts, with so many lines of an old chip left."""
    rows = ['[[chip]]\nid = "old"\nkind = "mcp23017"\naddress = 0x20\n']
    for n in range(max(high, low, coils, contacts, 16 - lines)):
        lamps = []
        if n < high:
            lamps.append('red = "auto"')
        if n < low:
            lamps.append('green = { pin = "auto", inverted = true }')
        # Lamps of other stands hold the lines of the old chip that are not left.
        if n < 16 - lines:
            lamps.append(f'white = "old:{(7, 15, *range(7), *range(8, 15))[n]}"')
        rows.append(
            f'[[switch]]\nid = "s{n}"\nlock = "none"\n'
            + ('bolt = "auto"\n' if n < coils else "")
            + f"lamps = {{ {', '.join(lamps)} }}\n"
            + f"contacts = {{ normal = {_normal(n, contacts)}, "
            + f'reverse = "far:{n}" }}\n'
        )
    return "\n".join(rows)


def _normal(n: int, contacts: int) -> str:
    return '"auto"' if n < contacts else f'"near:{n}"'


def test_at_the_edges_of_current_boot_pulls_and_lines() -> None:
    """Where one wire more or less decides; 17 lamps of 3 mA are one too many for 50 mA."""
    found: Counter[bool] = Counter()
    for high in (0, 12, 14, 15, 16, 17, 18):
        for low in (0, 1, 2, 5, 6):
            for coils, contacts, lines in ((0, 0, 0), (2, 3, 0), (1, 4, 1), (3, 0, 2), (0, 6, 4)):
                text = edge(high, low, coils, contacts, lines)
                layout = parse_layout(text, "edge")
                plan = plan_for(layout, Expanders.NONE)
                exists = fewest_chips(layout, "none") is not None
                about = f"{high} high, {low} low, {coils} coils, {contacts} contacts, {lines} lines"
                assert bool(plan.reasons) is not exists, f"{about}: {plan.reasons}"
                found[exists] += 1
                if exists:
                    after = parse_layout(with_plan(text, "edge", plan), "edge")
                    assert broken_rules(layout, after, "none") == [], about
    assert min(found.values()) >= 30, found

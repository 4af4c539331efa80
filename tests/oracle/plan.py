"""The layout of rulebook section 2, as the oracle wants it: names, orders and times looked up once.

The layout is taken to be valid; nothing here checks it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

Table = dict[str, Any]

SECOND = 1_000_000

# Section 2: the defaults of [times], in seconds.
DEFAULT_TIMES = {
    "settle": 0.02,
    "clear_after": 2.0,
    "throw": 5.0,
    "restore_within": 600.0,
    "relock_within": 120.0,
    "return_within": 120.0,
    "repeat_within": 10.0,
}

# Section 10: what a contact that the tape never mentions stands at, by role.
MADE_AT_REST = {"hasp", "normal", "shut", "on", "hook"}

KINDS_WITH_CONTACTS = ("switch", "spur", "gate", "derail", "flag", "chock", "key")

# Section 2: the orders by kind where the layout gives none.
DEFAULT_OPENING = ("foreman", "flag", "switch", "derail", "gate", "chock")
DEFAULT_CLOSING = ("chock", "gate", "derail", "foreman", "flag", "switch")

# The rulebook names one scale only; any other layout states its ratio.
RATIOS = {"HO": 87.1}


def to_us(seconds: float) -> int:
    """Section 3: times are whole microseconds inside."""
    return round(seconds * SECOND)


@dataclass(frozen=True)
class Contact:
    """One contact `thing.role` with its two settle times in microseconds."""

    name: str
    thing: str
    role: str
    settle: int
    clear: int

    def settle_time(self, made: bool) -> int:
        """Section 3: a detector becoming clear uses `clear_after`, whatever its own settle."""
        return self.clear if self.role == "detector" and not made else self.settle


@dataclass
class Plan:
    """Everything the replay reads of a layout."""

    times: dict[str, int]
    ratio: float
    clock_ratio: float
    chock_from_percent: float
    tables: dict[str, list[Table]]
    contacts: dict[str, Contact] = field(default_factory=dict)
    by_id: dict[str, Table] = field(default_factory=dict)
    kind_of: dict[str, str] = field(default_factory=dict)
    opening: dict[str, list[str]] = field(default_factory=dict)
    closing: dict[str, list[str]] = field(default_factory=dict)

    def ids(self, kind: str) -> list[str]:
        """List the ids of a kind, in file order."""
        return [table["id"] for table in self.tables[kind]]

    def of_spur(self, kind: str, spur: str) -> list[str]:
        """List the gates (derails, flags, chocks) of one spur, in file order."""
        return [table["id"] for table in self.tables[kind] if table["spur"] == spur]

    def switch_of(self, spur: str) -> str:
        """Find the switch that leads to a spur."""
        return str(self.by_id[spur]["switch"])

    def spurs_of(self, switch: str) -> list[str]:
        """List the spurs behind a switch, in file order: none, one or more."""
        return [table["id"] for table in self.tables["spur"] if table["switch"] == switch]

    def first_spur(self, switch: str) -> str | None:
        """Find the one spur that a violation line can name for a switch; null without one."""
        spurs = self.spurs_of(switch)
        return spurs[0] if spurs else None

    def has_padlock(self, switch: str) -> bool:
        """Section 1: `lock = "none"` is for switches without one; a padlock is the rule."""
        return bool(self.by_id[switch].get("lock", "padlock") == "padlock")

    def has_foreman(self, spur: str) -> bool:
        """Section 2: `"none"` is the default."""
        return bool(self.by_id[spur].get("foreman", "none") != "none")

    def has(self, thing: str, role: str) -> bool:
        """Whether the layout gives this contact at all."""
        return f"{thing}.{role}" in self.contacts

    def things_of_switch(self, switch: str) -> set[str]:
        """Section 9: "the switch or its spur's things", the spurs themselves among them."""
        things = {switch}
        for spur in self.spurs_of(switch):
            things.add(spur)
            for kind in ("gate", "derail", "flag", "chock"):
                things.update(self.of_spur(kind, spur))
        return things


def _order(plan: Plan, spur: str, given: list[str] | None, kinds: tuple[str, ...]) -> list[str]:
    """Section 2: the order the layout gives, or each kind in turn, in file order."""
    if given is not None:
        return list(given)
    order: list[str] = []
    for kind in kinds:
        if kind == "foreman":
            order += ["foreman"] if plan.has_foreman(spur) else []
        elif kind == "switch":
            order.append(plan.switch_of(spur))
        else:
            order += plan.of_spur(kind, spur)
    return order


def read_plan(layout: Table) -> Plan:
    """Turn the dict that tomllib gives into a plan."""
    head = layout["layout"]
    times = {
        key: to_us(layout.get("times", {}).get(key, default))
        for key, default in DEFAULT_TIMES.items()
    }
    plan = Plan(
        times=times,
        ratio=float(head["ratio"] if "ratio" in head else RATIOS[head["scale"]]),
        clock_ratio=float(head.get("clock_ratio", 6)),
        chock_from_percent=float(head.get("chock_from_percent", 0.5)),
        tables={kind: layout.get(kind, []) for kind in (*KINDS_WITH_CONTACTS, "trap")},
    )
    for kind, tables in plan.tables.items():
        for table in tables:
            plan.by_id[table["id"]] = table
            plan.kind_of[table["id"]] = kind
            for role, value in table.get("contacts", {}).items():
                own = value.get("settle") if isinstance(value, dict) else None
                settle = times["settle"] if own is None else to_us(own)
                name = f"{table['id']}.{role}"
                plan.contacts[name] = Contact(name, table["id"], role, settle, times["clear_after"])
    for spur in plan.ids("spur"):
        table = plan.by_id[spur]
        plan.opening[spur] = _order(plan, spur, table.get("opening"), DEFAULT_OPENING)
        plan.closing[spur] = _order(plan, spur, table.get("closing"), DEFAULT_CLOSING)
    return plan

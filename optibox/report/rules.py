"""The rules as a list: id, gravity, what they say, what comes of breaking them."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from itertools import groupby
from typing import Any

from optibox.catalog.nearest import nearest
from optibox.errors import Fault, InputError
from optibox.report.document import Column, Document, Item, Items, Row, Table, section
from optibox.report.words import and_list, counted
from optibox.rules import RULES
from optibox.rules.reach import COUNTED_FULL, ONE_PLACE, PENDING_FIRST

_GROUPS = {
    "F": "Mechanics and air",
    "C": "Ports, cables and power plugs",
    "L": "Slots and lanes",
    "M": "Memory and processor",
    "B": "Boot and controllers",
    "P": "Supply",
    "A": "Array and cache",
    "N": "Network",
    "D": "What the scenario asks for",
    "K": "Completeness",
    "W": "Wear",
    "T": "Time",
    "S": "Moving data that drives hold",
}
"""Names of the rules by the letter of their ids."""

COLUMNS = ("id", "severities", "title", "consequence", "remedy")


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleRow:
    """One rule in words."""

    id: str
    severities: tuple[str, ...]
    title: str
    consequence: str
    remedy: str


_MOVING = (
    RuleRow(
        id=ONE_PLACE,
        severities=("warning",),
        title="Files are never in one place alone",
        consequence="Between two steps one failed drive would lose them.",
        remedy="Keep a second copy elsewhere until the end.",
    ),
    RuleRow(
        id=COUNTED_FULL,
        severities=("information",),
        title="What drives hold is stated",
        consequence="A drive whose content is not stated counts as full.",
        remedy="Say held_tb, or holds_data = false, in the scenario.",
    ),
    RuleRow(
        id=PENDING_FIRST,
        severities=("warning",),
        title="What lies on drives with pending sectors is copied first",
        consequence="Such a drive may not be read a second time.",
        remedy="Copy it to a sound place before anything else.",
    ),
)
"""What is told with the steps of a move, beside the register."""


def _key(rule_id: str) -> tuple[int, int, str]:
    letters = list(_GROUPS)
    place = letters.index(rule_id[0]) if rule_id[0] in letters else len(letters)
    digits = "".join(char for char in rule_id if char.isdigit())
    return place, int(digits or 0), rule_id


def rule_rows(ids: Sequence[str] = ()) -> tuple[RuleRow, ...]:
    """Return rules by id or letter, all of them for none.

    Raises
    ------
    InputError
        If an id is no rule's.
    """
    rows = {
        rule.id: RuleRow(
            id=rule.id,
            severities=rule.severities,
            title=rule.title,
            consequence=rule.why,
            remedy=rule.remedy,
        )
        for rule in RULES.values()
    } | {row.id: row for row in _MOVING}
    wanted = [name.strip() for name in ids]
    faults = [
        Fault(
            path="rules",
            value=name,
            problem="is the id of no rule",
            remedy=nearest(name, rows),
        )
        for name in wanted
        if not any(_hits(name, rule_id) for rule_id in rows)
    ]
    if faults:
        raise InputError(faults)
    found = [
        r for r in rows.values() if not wanted or any(_hits(n, r.id) for n in wanted)
    ]
    return tuple(sorted(found, key=lambda row: _key(row.id)))


def _hits(name: str, rule_id: str) -> bool:
    is_letter = len(name) == 1
    given, known = name.lower(), rule_id.lower()
    return known.startswith(given) if is_letter else known == given


@dataclass(frozen=True, kw_only=True)
class RulesReport:
    """Rules with what happens where they are broken."""

    rows: tuple[RuleRow, ...]

    def document(self) -> Document:
        """Return the rules in groups."""
        groups = groupby(self.rows, key=lambda row: _GROUPS.get(row.id[0], "Others"))
        return Document(
            verdict=(counted(len(self.rows), "rule"),),
            sections=tuple(
                part
                for name, rows in groups
                for part in section(name, Items(tuple(map(_item, rows))))
            ),
            data=Table(
                columns=tuple(Column(key=key) for key in COLUMNS),
                rows=tuple(
                    Row(
                        cells=(
                            *(row.id, " | ".join(row.severities), row.title),
                            *(row.consequence, row.remedy),
                        )
                    )
                    for row in self.rows
                ),
            ),
        )

    def to_dict(self) -> list[dict[str, Any]]:
        """Return the rules for programs."""
        return [asdict(row) for row in self.rows]


def _item(row: RuleRow) -> Item:
    remedy = (f"Remedy: {row.remedy}",) if row.remedy else ()
    return Item(
        mark=row.id,
        text=f"{row.title} ({and_list(row.severities)})",
        details=(row.consequence, *remedy),
    )

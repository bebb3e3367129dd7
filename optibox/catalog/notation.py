"""Cell notations for what does not fit a flat row.

Items are separated by ``|``. Each notation is read into frozen records and
writes itself back as the text it was read from.

- slots: ``P1 x16@8 gen3 cpu bifurcates | P2 x1 gen2 chipset open
  | M1 m2 keyM 2280 x4 gen3 cpu nvme+sata``
- sharing: ``M1 sata -> ports -1 | M1 -> P2 off | P2 -> P1 x4``
- connectors: ``4 sata`` or ``2 sff-8087``
- leads: ``sata 3 | sata 3 | peripheral 3``
"""

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Literal

Uplink = Literal["cpu", "chipset"]
Connector = Literal["sata", "sff-8087", "sff-8643"]
Plug = Literal["sata", "peripheral"]

CONNECTOR_LANES: dict[str, int] = {"sata": 1, "sff-8087": 4, "sff-8643": 4}
M2_LENGTHS_MM = (30, 42, 60, 80, 110)


@dataclass(frozen=True, slots=True, kw_only=True)
class Slot:
    """A place on a board that takes one card or one M.2 module."""

    name: str
    form: Literal["pcie", "m2"]
    mechanical_lanes: int
    lanes: int
    generation: int
    uplink: Uplink
    is_open_ended: bool = False
    can_bifurcate: bool = False
    key: Literal["", "B", "M"] = ""
    length_mm: int = 0
    modes: frozenset[str] = frozenset()

    @property
    def mechanical(self) -> int:
        """Return the longest card edge that goes in. [lanes]."""
        return 16 if self.is_open_ended else self.mechanical_lanes


@dataclass(frozen=True, slots=True, kw_only=True)
class SharingRule:
    """Using one slot (in one mode) takes ports or lanes away elsewhere."""

    slot: str
    mode: str = ""
    ports_lost: int = 0
    other_slot: str = ""
    other_lanes: int = 0
    """Lanes that the other slot keeps; 0 turns it off."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Connectors:
    """A number of equal connectors."""

    count: int
    connector: Connector

    @property
    def lanes(self) -> int:
        """Return how many drives the connectors reach."""
        return self.count * CONNECTOR_LANES[self.connector]


@dataclass(frozen=True, slots=True, kw_only=True)
class Lead:
    """One lead of a supply: so many plugs of one type on one pair of wires."""

    plug: Plug
    count: int


def _items(text: str) -> list[str]:
    return [item.strip() for item in text.split("|") if item.strip()]


def _fail(item: str, expected: str) -> ValueError:
    return ValueError(f"holds '{item}'; expected {expected}")


_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_.-]*")
_SLOT_HELP = (
    "a name, then x16@8 (mechanical@electrical), gen3, cpu or chipset, and "
    "open/bifurcates, or m2 keyM 2280 x4 gen3 cpu nvme+sata"
)


_Read = Callable[[re.Match[str]], dict[str, object]]
_TOKENS: tuple[tuple[re.Pattern[str], _Read], ...] = (
    (
        re.compile(r"x(1|2|4|8|16)(?:@(1|2|4|8|16))?"),
        lambda m: {"mechanical_lanes": int(m[1]), "lanes": int(m[2] or m[1])},
    ),
    (re.compile(r"gen([1-6])"), lambda m: {"generation": int(m[1])}),
    (re.compile(r"cpu|chipset"), lambda m: {"uplink": m[0]}),
    (re.compile(r"key([bm])"), lambda m: {"key": m[1].upper()}),
    (re.compile(r"22(30|42|60|80|110)"), lambda m: {"length_mm": int(m[1])}),
    (re.compile(r"m2"), lambda _: {"form": "m2"}),
    (re.compile(r"open"), lambda _: {"is_open_ended": True}),
    (re.compile(r"bifurcates"), lambda _: {"can_bifurcate": True}),
    (
        re.compile(r"(?:nvme|sata)(?:\+(?:nvme|sata))?"),
        lambda m: {"modes": frozenset(m[0].split("+"))},
    ),
)


def _token(token: str, item: str) -> dict[str, object]:
    for pattern, read in _TOKENS:
        if match := pattern.fullmatch(token.lower()):
            return read(match)
    raise _fail(item, _SLOT_HELP)


def slots_from_text(text: str) -> tuple[Slot, ...]:
    """Return the slots written in a cell.

    Examples
    --------
    >>> slots_from_text("P1 x16@8 gen3 cpu")[0].lanes
    8
    """
    slots = []
    for item in _items(text):
        name, *tokens = item.split()
        if not _NAME.fullmatch(name):
            raise _fail(item, _SLOT_HELP)
        found: dict[str, object] = {}
        for token in tokens:
            read = _token(token, item)
            if read.keys() & found.keys():
                raise _fail(item, "each property of a slot once")
            found |= read
        slots.append(_slot({"name": name, "form": "pcie", **found}, item))
    names = [slot.name for slot in slots]
    if len(set(names)) != len(names):
        raise _fail(text, "slot names that differ from each other")
    return tuple(slots)


def slots_to_text(slots: Iterable[Slot]) -> str:
    """Return the cell that reads back as these slots.

    Examples
    --------
    >>> slots_to_text(slots_from_text("M1 m2 gen3 cpu"))
    'M1 m2 x4 gen3 cpu keyM 2280 nvme'
    """
    return " | ".join(" ".join(_slot_words(slot)) for slot in slots)


def _slot_words(slot: Slot) -> list[str]:
    width = f"x{slot.mechanical_lanes}"
    if slot.lanes != slot.mechanical_lanes:
        width += f"@{slot.lanes}"
    words = (
        slot.name,
        "m2" if slot.form == "m2" else "",
        width,
        f"gen{slot.generation}",
        slot.uplink,
        f"key{slot.key}" if slot.key else "",
        f"22{slot.length_mm}" if slot.length_mm else "",
        "+".join(sorted(slot.modes)),
        "open" if slot.is_open_ended else "",
        "bifurcates" if slot.can_bifurcate else "",
    )
    return [word for word in words if word]


def _slot(found: dict[str, object], item: str) -> Slot:
    if found["form"] == "m2":
        defaults = {"key": "M", "length_mm": 80, "modes": frozenset({"nvme"})}
        found = {"mechanical_lanes": 4, "lanes": 4, **defaults, **found}
    missing = {"mechanical_lanes", "generation", "uplink"} - set(found)
    if missing:
        raise _fail(item, _SLOT_HELP)
    if found["lanes"] > found["mechanical_lanes"]:  # type: ignore[operator]
        raise _fail(item, "at most as many electrical lanes as mechanical ones")
    return Slot(**found)  # type: ignore[arg-type]  # the tokens fix the types


_SHARING = re.compile(
    r"^(\S+)(?:\s+(sata|nvme))?\s*->\s*"
    r"(?:ports\s*-\s*(\d{1,3})|(\S+)\s+(?:x(0|1|2|4|8|16)|(off)))$"
)


def sharing_from_text(text: str) -> tuple[SharingRule, ...]:
    """Return the sharing rules written in a cell.

    Examples
    --------
    >>> sharing_from_text("M1 sata -> ports -1")[0].ports_lost
    1
    """
    rules = []
    for item in _items(text):
        match = _SHARING.match(item)
        if not match:
            raise _fail(item, "'M1 sata -> ports -1', 'M1 -> P2 off' or 'P2 -> P1 x4'")
        slot, mode, ports, other, lanes, _ = match.groups()
        rules.append(
            SharingRule(
                slot=slot,
                mode=mode or "",
                ports_lost=int(ports or 0),
                other_slot=other or "",
                other_lanes=int(lanes or 0),
            )
        )
    return tuple(rules)


def sharing_to_text(rules: Iterable[SharingRule]) -> str:
    """Return the cell that reads back as these sharing rules."""
    return " | ".join(_sharing_words(rule) for rule in rules)


def _sharing_words(rule: SharingRule) -> str:
    user = f"{rule.slot} {rule.mode}".rstrip()
    if not rule.other_slot:
        return f"{user} -> ports -{rule.ports_lost}"
    kept = f"x{rule.other_lanes}" if rule.other_lanes else "off"
    return f"{user} -> {rule.other_slot} {kept}"


def connectors_from_text(text: str) -> Connectors:
    """Return the connectors written in a cell, such as ``2 sff-8087``."""
    match = re.fullmatch(r"(\d{1,2})\s+(sata|sff-8087|sff-8643)", text.strip().lower())
    if not match or int(match[1]) == 0:
        raise _fail(text, "a count and sata, sff-8087 or sff-8643, such as '4 sata'")
    return Connectors(count=int(match[1]), connector=match[2])  # type: ignore[arg-type]


def connectors_to_text(connectors: Connectors) -> str:
    """Return the cell that reads back as these connectors."""
    return f"{connectors.count} {connectors.connector}"


def leads_from_text(text: str) -> tuple[Lead, ...]:
    """Return the leads written in a cell, such as ``sata 3 | peripheral 2``."""
    leads = []
    for item in _items(text):
        match = re.fullmatch(r"(sata|peripheral)\s+(\d{1,2})", item.lower())
        if not match or int(match[2]) == 0:
            raise _fail(item, "'sata 3' or 'peripheral 2' for each lead")
        leads.append(Lead(plug=match[1], count=int(match[2])))  # type: ignore[arg-type]
    return tuple(leads)


def leads_to_text(leads: Iterable[Lead]) -> str:
    """Return the cell that reads back as these leads."""
    return " | ".join(f"{lead.plug} {lead.count}" for lead in leads)


def box_from_text(text: str) -> dict[str, int]:
    """Return what is in the box, such as ``sata-data x2 | plate-1``."""
    box: dict[str, int] = {}
    for item in _items(text):
        match = re.fullmatch(r"(\S+)(?:\s+x(\d{1,3}))?", item)
        if not match:
            raise _fail(item, "a part id and, where more than one, x2")
        box[match[1]] = box.get(match[1], 0) + int(match[2] or 1)
    return box

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


_SLOT_HELP = (
    "a name, then x16@8 (mechanical@electrical), gen3, cpu or chipset, and "
    "open/bifurcates, or m2 keyM 2280 x4 gen3 cpu nvme+sata"
)


def _token(found: dict[str, object], token: str, item: str) -> None:
    low = token.lower()
    if match := re.fullmatch(r"x(\d+)(?:@(\d+))?", low):
        found["mechanical_lanes"] = int(match[1])
        found["lanes"] = int(match[2] or match[1])
    elif match := re.fullmatch(r"gen([1-6])", low):
        found["generation"] = int(match[1])
    elif low in {"cpu", "chipset"}:
        found["uplink"] = low
    elif match := re.fullmatch(r"key([bm])", low):
        found["key"] = match[1].upper()
    elif match := re.fullmatch(r"22(\d{2,3})", low):
        found["length_mm"] = int(match[1])
    elif low == "m2":
        found["form"] = "m2"
    elif low == "open":
        found["is_open_ended"] = True
    elif low == "bifurcates":
        found["can_bifurcate"] = True
    elif set(low.split("+")) <= {"nvme", "sata"}:
        found["modes"] = frozenset(low.split("+"))
    else:
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
        found: dict[str, object] = {"name": name, "form": "pcie"}
        for token in tokens:
            _token(found, token, item)
        slots.append(_slot(found, item))
    names = [slot.name for slot in slots]
    if len(set(names)) != len(names):
        raise _fail(text, "slot names that differ from each other")
    return tuple(slots)


def _slot(found: dict[str, object], item: str) -> Slot:
    if found["form"] == "m2":
        defaults = {"key": "M", "length_mm": 80, "modes": frozenset({"nvme"})}
        found = {"mechanical_lanes": 4, "lanes": 4, **defaults, **found}
    missing = {"mechanical_lanes", "generation", "uplink"} - set(found)
    if missing:
        raise _fail(item, _SLOT_HELP)
    return Slot(**found)  # type: ignore[arg-type]  # the tokens fix the types


_SHARING = re.compile(
    r"^(\S+)(?:\s+(sata|nvme))?\s*->\s*"
    r"(?:ports\s*-\s*(\d+)|(\S+)\s+(?:x(\d+)|(off)))$"
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


def connectors_from_text(text: str) -> Connectors:
    """Return the connectors written in a cell, such as ``2 sff-8087``."""
    match = re.fullmatch(r"(\d+)\s+(sata|sff-8087|sff-8643)", text.strip().lower())
    if not match or int(match[1]) == 0:
        raise _fail(text, "a count and sata, sff-8087 or sff-8643, such as '4 sata'")
    return Connectors(count=int(match[1]), connector=match[2])  # type: ignore[arg-type]


def leads_from_text(text: str) -> tuple[Lead, ...]:
    """Return the leads written in a cell, such as ``sata 3 | peripheral 2``."""
    leads = []
    for item in _items(text):
        match = re.fullmatch(r"(sata|peripheral)\s+(\d+)", item.lower())
        if not match:
            raise _fail(item, "'sata 3' or 'peripheral 2' for each lead")
        leads.append(Lead(plug=match[1], count=int(match[2])))  # type: ignore[arg-type]
    return tuple(leads)


def box_from_text(text: str) -> dict[str, int]:
    """Return what is in the box, such as ``sata-data x2 | plate-1``."""
    box: dict[str, int] = {}
    for item in _items(text):
        match = re.fullmatch(r"(\S+)(?:\s+x(\d+))?", item)
        if not match:
            raise _fail(item, "a part id and, where more than one, x2")
        box[match[1]] = box.get(match[1], 0) + int(match[2] or 1)
    return box

"""A clean machine of round parts, and ways to change it one thing at a time.

Nothing is wrong with it, and nothing is worth a word: trays and ports for hot-swap, a
spare cable, drives of two models, a supply of the right size. All figures are invented.
"""

from collections import Counter
from dataclasses import dataclass, field, replace

from optibox.assess import Assessment, assess
from optibox.build import (
    Build,
    Connection,
    DriveUse,
    Item,
    ItemCount,
    OperatingPlan,
    SlotUse,
    Surroundings,
)
from optibox.build.items import OWNED_SUFFIX
from optibox.catalog.attachment import Cable, NetworkLead
from optibox.catalog.columns import Part
from optibox.catalog.platform import (
    Board,
    Chassis,
    Cooler,
    Memory,
    PowerSupply,
    Processor,
)
from optibox.catalog.storage import BootMedium, HardDrive
from optibox.scenario import OwnedPart, Scenario
from tests.support.parts import make

BASE: dict[str, tuple[type[Part], dict]] = {
    "case": (Chassis, {"has_hot_plug": True, "bays_35": 8, "bays_25": 2, "n_fans": 2}),
    "board": (
        Board,
        {
            "has_hot_plug": True,
            "sata_ports": 8,
            "memory_slots": 2,
            "idle_w": 30,
            "active_w": 36,
        },
    ),
    "supply": (
        PowerSupply,
        {"rated_w": 240, "rail_12v_a": 16, "rail_5v_a": 8, "leads": "sata 4 | sata 4"},
    ),
    "memory": (Memory, {}),
    "boot": (BootMedium, {}),
    "lead": (NetworkLead, {}),
    "cable": (Cable, {}),
    "hdd-a": (HardDrive, {"has_bounded_recovery": "yes", "is_vibration_rated": True}),
    "hdd-b": (HardDrive, {"has_bounded_recovery": "yes", "is_vibration_rated": True}),
}
DRIVES = (
    ("data-1", "hdd-a", "data"),
    ("data-2", "hdd-b", "data"),
    ("parity-1", "hdd-a", "parity"),
    ("boot-1", "boot", "boot"),
)
NEEDS = {
    "usable_tb": 4,
    "failures_survived": 1,
    "memory_gib": 4,
    "other_end_gbit_s": 1,
}
OPERATION = {
    "layout": "independent",
    "n_parity": 1,
    "write_mode": "read-modify-write",
    "timeout_min": 30,
}
SOCKETED = {
    "board": {"socket": "s1"},
    "processor": (Processor, {"cpu_lanes": 16}),
    "cooler": (Cooler, {}),
}


@dataclass
class Bench:
    """A machine under construction; every argument changes one thing."""

    parts: dict = field(default_factory=dict)
    """Changed cells by part id, or a kind with its cells for a new part."""
    drives: tuple = DRIVES
    wires: dict = field(default_factory=dict)
    """Changed keys of connections by drive; ``None`` takes the connection away."""
    slots: tuple = ()
    """Name, part id, slot."""
    counts: dict = field(default_factory=dict)
    """Counts other than what is used."""
    operation: dict = field(default_factory=dict)
    needs: dict = field(default_factory=dict)
    sections: dict = field(default_factory=dict)
    owned: dict = field(default_factory=dict)
    """History by part id."""
    spares: tuple = ("cable",)
    around: dict = field(default_factory=dict)

    def made(self) -> dict[str, Part]:
        made = {}
        for name, (kind, cells) in BASE.items():
            change = self.parts.get(name, {})
            made[name] = make(kind, name, **{**cells, **change})
        for name, change in self.parts.items():
            if isinstance(change, tuple):
                part_id = name.removesuffix(OWNED_SUFFIX)
                made[name] = make(change[0], part_id, **change[1])
        return made

    def build(self) -> Build:
        made = self.made()
        wires = tuple(self.connections(made))
        counts = self.used(wires)
        items = tuple(
            ItemCount(item=self.item(key, made[key]), count=count)
            for key, count in counts.items()
            if count
        )
        return Build(
            items=items,
            drives=tuple(DriveUse(name=n, key=k, role=r) for n, k, r in self.drives),
            connections=wires,
            slots=tuple(SlotUse(name=n, key=k, slot=s) for n, k, s in self.slots),
            operation=OperatingPlan(**{**OPERATION, **self.operation}),
            spares=tuple(
                ItemCount(item=Item(key=key, part=made[key]), count=1)
                for key in self.spares
            ),
            around=Surroundings(**self.around),
        )

    def used(self, wires) -> dict[str, int]:
        """Return how many pieces of each part the machine has."""
        fixed = ("case", "board", "supply", "memory", "lead")
        modules = {drive for drive, _, _ in self.drives}
        pieces = {(wire.cable, wire.cable_key) for wire in wires if wire.cable_key}
        keys = [
            *fixed,
            *(key for _, key, _ in self.drives),
            *(key for name, key, _ in self.slots if name not in modules),
            *(key for _, key in pieces),
            *(wire.adapter_key for wire in wires if wire.adapter_key),
        ]
        new = [name for name, change in self.parts.items() if isinstance(change, tuple)]
        counts = dict.fromkeys(new, 1) | dict(Counter(keys))
        return counts | self.counts

    def item(self, key: str, part: Part) -> Item:
        history = self.owned.get(key)
        owned = OwnedPart(id=part.id, count=9, **history) if history else None
        return Item(key=key, part=part, owned=owned)

    def connections(self, made):
        number = 0
        for name, key, _ in self.drives:
            part = made[key]
            in_slot = name in {slot[0] for slot in self.slots}
            is_plugged = getattr(part, "interface", "usb") in ("sata", "sas")
            if not is_plugged or in_slot or getattr(part, "form", "") == "m2":
                continue
            change = self.wires.get(name, {})
            number += 1
            if change is None:
                continue
            size = getattr(part, "form", "2.5")
            wire = Connection(
                drive=name,
                bay=f"{size}-{number}",
                cable=f"cable-{number}",
                cable_key="cable",
                host="board",
                connector=number,
            )
            yield replace(wire, **change)

    def scenario(self) -> Scenario:
        return Scenario.model_validate(
            {
                "needs": {**NEEDS, **self.needs},
                "money": {"tariff_per_kwh": 0.3},
                **self.sections,
            }
        )

    def judged(self) -> Assessment:
        return assess(self.build(), self.scenario())


def told(found: Assessment) -> list[str]:
    """Return the findings as 'rule severity', each once."""
    letters = {"error": "E", "warning": "W", "information": "I"}
    return sorted({f"{f.rule} {letters[f.severity]}" for f in found.findings})

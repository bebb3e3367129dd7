"""The completion against every wiring there is, on small machines drawn at random.

The enumeration in ``tests/support/wirings.py`` is a plain description of what can be
connected with what; it shares no code with the completion.
"""

import random
from dataclasses import replace

import pytest

from optibox.assess import assess
from optibox.build import Build, DriveUse, Item, ItemCount, OperatingPlan, SlotUse
from optibox.build.sketch import DriveSketch, Sketch, SlotSketch
from optibox.catalog.attachment import Cable, Controller
from optibox.catalog.platform import Board, Chassis, PowerSupply
from optibox.catalog.storage import DriveAdapter, HardDrive
from optibox.certify.wirings import Device, bay_groups, port_groups, wirings
from optibox.completion import complete
from optibox.scenario import Scenario
from tests.support.parts import catalog_of, make, plain_parts

PLAN = OperatingPlan(
    layout="independent", n_parity=1, write_mode="read-modify-write", timeout_min=30
)
SCENARIO = Scenario.model_validate(
    {
        "needs": {"usable_tb": 0.1, "failures_survived": 0, "memory_gib": 1},
        "money": {"tariff_per_kwh": 0.3},
        "limits": {"array_drives": 60},
    }
)
CABLES = {
    "cable": {},
    "fwd": {"direction": "forward", "controller_end": "sff-8087"},
    "rev": {"direction": "reverse", "drive_end": "sff-8087"},
    "str": {
        "direction": "straight",
        "controller_end": "sff-8087",
        "drive_end": "sff-8087",
    },
}


class Drawn:
    """A machine drawn from a seed: ports, bays, drives, kinds of cable on offer."""

    def __init__(self, seed: int) -> None:
        source = random.Random(seed)
        self.parts = plain_parts()
        self.parts["board"] = make(
            Board,
            "board",
            sata_ports=source.choice((0, 1, 2, 4)),
            slots="P1 x8 gen3 cpu | P2 x1 gen1 cpu",
        )
        backplane = source.choice(("none", "sata", "sff-8087"))
        self.parts["case"] = make(
            Chassis,
            "case",
            bays_35=source.choice((2, 3, 5)),
            bays_25=source.choice((0, 1)),
            backplane_connector=backplane,
            backplane_power="" if backplane == "none" else "peripheral 1",
            tray_holes=source.choice(("all", "none")),
        )
        self.parts["supply"] = make(
            PowerSupply, "supply", leads="sata 6 | peripheral 4", rail_12v_a=60
        )
        self.card = source.choice((None, "plain", "multi", "legs"))
        if self.card:
            self.parts["card"] = make(Controller, "card", **CARDS[self.card])
        self.drives = self._drives(source)
        kinds = source.sample(sorted(CABLES), source.randint(2, 4))
        self.cables = [make(Cable, name, **CABLES[name]) for name in kinds]
        self.adapters = [make(DriveAdapter, "frame")] if source.random() < 0.6 else []
        self.parts.pop("cable")
        self.parts.pop("hdd-4")

    def _drives(self, source: random.Random) -> list[tuple[str, str, str]]:
        cells = {"large": {}, "small": {"form": "2.5", "height_mm": 7}}
        sas = {"interface": "sas"} if source.random() < 0.2 else {}
        drives = []
        for number in range(source.randint(2, 4)):
            kind = source.choice(("large", "large", "small"))
            self.parts[kind] = make(HardDrive, kind, **cells[kind], **sas)
            drives.append((f"drive-{number}", kind, "data"))
        name, kind, _ = drives[-1]
        drives[-1] = (name, kind, "parity")
        return drives

    @property
    def items(self) -> tuple[ItemCount, ...]:
        counts = {name: 1 for name in self.parts if name not in ("large", "small")}
        for _, kind, _ in self.drives:
            counts[kind] = counts.get(kind, 0) + 1
        return tuple(
            ItemCount(item=Item(key=key, part=self.parts[key]), count=n)
            for key, n in counts.items()
        )

    def sketch(self) -> Sketch:
        drives = [DriveSketch(name=n, key=k, role=r) for n, k, r in self.drives]
        drives.append(DriveSketch(name="boot-1", key="boot", role="boot"))
        slots = (SlotSketch(name="card-1", key="card", slot="P1"),) if self.card else ()
        operation = {
            "layout": PLAN.layout,
            "n_parity": PLAN.n_parity,
            "write_mode": PLAN.write_mode,
            "cache": PLAN.cache,
            "timeout_min": PLAN.timeout_min,
        }
        return Sketch(
            items=self.items, drives=tuple(drives), slots=slots, operation=operation
        )

    def every_build(self):
        """Yield the machine in every wiring."""
        groups: dict[tuple[str, str], list[str]] = {}
        for name, kind, role in self.drives:
            groups.setdefault((kind, role), []).append(name)
        by_key = {entry.item.key: entry.item for entry in self.items}
        devices = [
            Device(by_key[kind], role, tuple(names))
            for (kind, role), names in groups.items()
        ]
        cards = {"card-1": by_key["card"]} if self.card else {}
        offers = tuple(Item(key=p.id, part=p) for p in (*self.cables, *self.adapters))
        uses = [DriveUse(name=n, key=k, role=r) for n, k, r in self.drives]
        base = Build(
            items=self.items,
            drives=(*uses, DriveUse(name="boot-1", key="boot", role="boot")),
            connections=(),
            slots=(SlotUse(name="card-1", key="card", slot="P1"),) if self.card else (),
            operation=PLAN,
        )
        ports = port_groups(self.parts["board"], cards)
        for wiring in wirings(devices, ports, bay_groups(self.parts["case"]), offers):
            small = tuple(ItemCount(item=item, count=n) for item, n in wiring.parts)
            yield replace(
                base, items=base.items + small, connections=wiring.connections
            )


CARDS = {
    "plain": {"connectors": "4 sata", "native_ports": 4},
    "multi": {
        "connectors": "1 sff-8087",
        "native_ports": 4,
        "lanes": 4,
        "speaks_sas": True,
    },
    "legs": {"connectors": "4 sata", "native_ports": 2, "topology": "multiplier"},
}


def rank(found) -> tuple[int, int]:
    warnings = sum(f.severity == "warning" for f in found.findings)
    return len(found.errors), warnings


def agrees(seed: int) -> bool:
    """Assert that no wiring does better; return whether there is any wiring at all."""
    drawn = Drawn(seed)
    catalog = catalog_of([*drawn.parts.values(), *drawn.cables, *drawn.adapters])
    completion = complete(drawn.sketch(), SCENARIO, catalog)
    judged = [assess(build, SCENARIO) for build in drawn.every_build()]
    found = completion.assessment
    if not judged:
        assert found.errors
        assert completion.cannot
        return False
    best = min(judged, key=rank)
    assert rank(found) <= rank(best), (found.findings, best.findings)
    if rank(found) == rank(best):
        alike = [a for a in judged if rank(a) == rank(best)]
        fastest = max(a.rates.write_mb_s for a in alike)
        assert found.rates.write_mb_s >= fastest * (1 - 1e-9)
    if not best.errors:
        assert completion.cannot == ()
    return True


@pytest.mark.parametrize("seeds", [range(n, n + 10) for n in range(0, 60, 10)], ids=str)
def test_no_wiring_is_better_than_the_completion(seeds):
    wired = [agrees(seed) for seed in seeds]
    assert any(wired)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(60, 460))
def test_no_wiring_is_better_than_the_completion_at_length(seed):
    agrees(seed)

"""Machines wired by hand from the invented catalog, and plans around them."""

from collections.abc import Iterable
from pathlib import Path

from optibox.assess import Assessment, assess
from optibox.build import (
    BOARD,
    Build,
    Connection,
    DriveUse,
    Item,
    ItemCount,
    OperatingPlan,
    SlotUse,
)
from optibox.build.items import OWNED_SUFFIX
from optibox.catalog.catalog import Catalog
from optibox.catalog.locate import find_catalog
from optibox.catalog.read import read_catalog
from optibox.scenario import OwnedPart, Scenario
from optibox.search.result import Plan, Proof


def invented() -> Catalog:
    return read_catalog([find_catalog("invented", Path.cwd())])


def scenario(**sections) -> Scenario:
    """Return the reference machine's scenario, sections laid over it."""
    values = {
        "name": "reference",
        "needs": {
            "usable_tb": 10,
            "failures_survived": 1,
            "read_mb_s": 100,
            "ingest_mb_s": 400,
            "burst_gb": 100,
            "other_end_medium": "sfp+",
        },
        "money": {"tariff_per_kwh": 0.30},
    }
    for name, section in sections.items():
        values[name] = (
            values.get(name, {}) | section if isinstance(section, dict) else section
        )
    return Scenario.model_validate(values)


def _items(
    catalog: Catalog, counts: dict[str, int], owned: dict[str, OwnedPart]
) -> Iterable[ItemCount]:
    for key, count in counts.items():
        part_id = key.removesuffix(OWNED_SUFFIX)
        item = Item(key=key, part=catalog.by_id[part_id], owned=owned.get(key))
        yield ItemCount(item=item, count=count)


REFERENCE_PARTS = {
    "ref-chassis-4b": 1,
    "ref-supply-400": 1,
    "ref-board": 1,
    "ref-memory-8": 1,
    "ref-boot-stick": 1,
    "ref-controller-2p": 2,
    "ref-nic-10g-old": 1,
    "ref-ssd-sata-500": 2,
    "ref-hdd-4tb-c5400": 4,
    "cable-sata-05": 6,
    "lead-dac-3m": 1,
}


def reference_build(catalog: Catalog, **operation) -> Build:
    """Return the reference machine: four drives on two cards, a mirrored cache."""
    hard, solid = "ref-hdd-4tb-c5400", "ref-ssd-sata-500"
    roles = [("data-1", hard, "data"), ("data-2", hard, "data")]
    roles += [("data-3", hard, "data"), ("parity-1", hard, "parity")]
    roles += [("cache-1", solid, "cache"), ("cache-2", solid, "cache")]
    roles += [("boot-1", "ref-boot-stick", "boot")]
    ports = {
        "data-1": ("3.5-1", "controller-1", 1),
        "data-2": ("3.5-2", "controller-1", 2),
        "data-3": ("3.5-3", "controller-2", 1),
        "parity-1": ("3.5-4", "controller-2", 2),
        "cache-1": ("2.5-1", BOARD, 1),
        "cache-2": ("2.5-2", BOARD, 2),
    }
    plan = {
        "layout": "independent",
        "n_parity": 1,
        "write_mode": "reconstruct",
        "cache": "mirror",
        "timeout_min": 30,
    }
    return Build(
        items=tuple(_items(catalog, REFERENCE_PARTS, {})),
        drives=tuple(DriveUse(name=n, key=k, role=r) for n, k, r in roles),
        connections=tuple(
            Connection(
                drive=drive,
                bay=bay,
                cable=f"cable-{number}",
                cable_key="cable-sata-05",
                host=host,
                connector=connector,
            )
            for number, (drive, (bay, host, connector)) in enumerate(ports.items(), 1)
        ),
        slots=(
            SlotUse(name="network-1", key="ref-nic-10g-old", slot="P1"),
            SlotUse(name="controller-1", key="ref-controller-2p", slot="P2"),
            SlotUse(name="controller-2", key="ref-controller-2p", slot="P3"),
        ),
        operation=OperatingPlan(**plan | operation),
        postage=tuple(sorted(catalog.postage.items())),
    )


def reference(catalog: Catalog | None = None, **sections) -> Assessment:
    return assess(reference_build(catalog or invented()), scenario(**sections))


def plan_of(found: Assessment, *, status="optimal", bound: float | None = None) -> Plan:
    value = found.total_cost
    proof = Proof(
        bound=value if bound is None else bound,
        value=value,
        n_entries=3000,
        n_bounded=2990,
        n_solves=7,
        seconds=1.25,
        solver="HiGHS through PuLP",
    )
    return Plan(status=status, aim="total cost", proof=proof, assessment=found)


HARD, SMALL, MODULE = "ref-hdd-4tb-c5400", "hdd-25-1tb-c5400", "ssd-nvme3-500"
OWNED_DRIVE = "hdd-35-4tb-c5400" + OWNED_SUFFIX
LARGE_PARTS = {
    "chassis-4u-10b-mixed": 1,
    "psu-atx-750": 1,
    "board-srv-soldered-8s-1g": 1,
    "mem-ddr4-reg-16": 1,
    "boot-stick-16g": 1,
    "hba-8i-gen2-ready": 1,
    MODULE: 1,
    HARD: 4,
    OWNED_DRIVE: 2,
    SMALL: 1,
    "frame-25-screw-pack2": 1,
    "cable-8087-8087-05": 1,
    "cable-rev-8087-06": 1,
    "cable-fwd-8087-05-pack2": 1,
    "lead-cat6-3m": 1,
}


LARGE_CABLES = (
    ("cable-1", "cable-8087-8087-05"),
    ("cable-2", "cable-rev-8087-06"),
    ("cable-3", "cable-fwd-8087-05-pack2"),
)


def large_build(catalog: Catalog) -> Build:
    """Return a machine with every direction of cable, owned drives, spares, a module.

    Bays 1-4 hang on a straight cable, 5 and 6 on a reverse breakout, bay 9 on a
    forward one; the cache is an M.2 module.
    """
    part_id = OWNED_DRIVE.removesuffix(OWNED_SUFFIX)
    owned = {OWNED_DRIVE: OwnedPart(id=part_id, count=2, age_years=2.0)}
    roles = [(f"data-{n}", HARD, "data") for n in range(1, 4)]
    roles += [("data-4", OWNED_DRIVE, "data"), ("data-5", OWNED_DRIVE, "data")]
    roles += [("data-6", SMALL, "data"), ("parity-1", HARD, "parity")]
    roles += [("cache-1", MODULE, "cache")]
    roles += [("boot-1", "boot-stick-16g", "boot")]
    straight, reverse, forward = LARGE_CABLES
    frame = "frame-25-screw-pack2"
    ways = [
        ("data-1", "3.5-1", *straight, "controller-1", 1, 1, ""),
        ("data-2", "3.5-2", *straight, "controller-1", 1, 2, ""),
        ("data-3", "3.5-3", *straight, "controller-1", 1, 3, ""),
        ("parity-1", "3.5-4", *straight, "controller-1", 1, 4, ""),
        ("data-4", "3.5-5", *reverse, BOARD, 1, 1, ""),
        ("data-5", "3.5-6", *reverse, BOARD, 2, 1, ""),
        ("data-6", "3.5-9", *forward, "controller-1", 2, 1, frame),
    ]
    return Build(
        items=tuple(_items(catalog, LARGE_PARTS, owned)),
        drives=tuple(DriveUse(name=n, key=k, role=r) for n, k, r in roles),
        connections=tuple(
            Connection(
                drive=drive,
                bay=bay,
                cable=cable,
                cable_key=key,
                host=host,
                connector=connector,
                port=port,
                adapter_key=adapter,
            )
            for drive, bay, cable, key, host, connector, port, adapter in ways
        ),
        slots=(
            SlotUse(name="controller-1", key="hba-8i-gen2-ready", slot="P1"),
            SlotUse(name="cache-1", key=MODULE, slot="M1"),
        ),
        operation=OperatingPlan(
            layout="independent",
            n_parity=1,
            write_mode="read-modify-write",
            cache="single",
            timeout_min=60,
        ),
        spares=tuple(_items(catalog, {"cable-fwd-8087-05-pack2": 1, HARD: 1}, {})),
        postage=tuple(sorted(catalog.postage.items())),
    )


def large(catalog: Catalog | None = None) -> Assessment:
    asked = scenario(
        needs={
            "ingest_mb_s": 80,
            "read_mb_s": 80,
            "other_end_medium": "twisted pair",
            "cache_mirror": False,
        }
    )
    return assess(large_build(catalog or invented()), asked)

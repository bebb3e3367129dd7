"""Random upgrades: owned drives of several sizes, full, half full or empty, on a plain machine.

Few parts beside the drives: a plan takes a fraction of a second, and presolve gets as far
as it can, to programs that are empty in the end.
"""

from random import Random

from optibox.catalog.catalog import Catalog
from optibox.catalog.platform import Board, Chassis
from optibox.catalog.storage import HardDrive
from optibox.scenario import Scenario
from tests.support.parts import catalog_of, make, plain_parts

SIZES_TB = (1, 2, 2.5, 3, 4, 5, 6, 8)


def four_mixed() -> tuple[Catalog, Scenario]:
    """Return 9 TB on three equal drives, one of another size and one of a third."""
    owned = [
        _lot("a", 3, 2.0, {"holds_data": True, "sits_in": "another machine"}),
        _lot("b", 1, 6.0, {"holds_data": False, "sits_in": "loose"}, idle_w=6),
        _lot("c", 1, 8.0, {"held_tb": 2.0}),
    ]
    return _upgrade(owned, 9, 1, bays=8, ports=5, most=5)


def upgrade(seed: int) -> tuple[Catalog, Scenario]:
    """Return the random upgrade of a seed."""
    random = Random(seed)
    bays, ports = random.choice((5, 6, 8)), random.choice((5, 6, 8))
    counts = (
        ("a", random.choice((3, 3, 2, 4))),
        ("b", 1),
        ("c", random.choice((1, 2))),
    )
    owned = [
        _lot(name, n, tb, _history(random, tb), idle_w=random.choice((4, 5, 6)))
        for name, n in counts
        for tb in [random.choice(SIZES_TB)]
    ]
    needs_tb, survives = random.choice((3, 5, 9, 9, 12)), random.choice((0, 1, 1, 2))
    return _upgrade(owned, needs_tb, survives, bays, ports, random.choice((5, 6, 8)))


def _history(random: Random, tb: float) -> dict:
    place = {"sits_in": random.choice((None, None, "loose", "another machine"))}
    if random.random() < 0.4:
        return {"held_tb": min(tb, random.choice((0.5, 1, 1.5, 2, 3))), **place}
    return {"holds_data": random.choice((None, True, False)), **place}


def _lot(name: str, count: int, tb: float, history: dict, idle_w: int = 5) -> dict:
    part = make(HardDrive, name, tb=tb, idle_w=idle_w)
    return {
        "id": name,
        "count": count,
        "part": part,
        "replacement_price": 60,
        **history,
    }


def _upgrade(
    owned: list[dict], tb: float, survives: int, bays: int, ports: int, most: int
) -> tuple[Catalog, Scenario]:
    parts = plain_parts()
    parts["case"] = make(Chassis, "case", bays_35=bays)
    parts["board"] = make(Board, "board", sata_ports=ports)
    scenario = Scenario.model_validate(
        {
            "needs": {"usable_tb": tb, "failures_survived": survives},
            "money": {"tariff_per_kwh": 0.3},
            "owned": owned,
            "limits": {"array_drives": most},
        }
    )
    return catalog_of(parts.values()), scenario

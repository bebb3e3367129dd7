"""Catalogs too large to be tried out: some thirty to eighty parts of the shipped one.

What a machine cannot do without is always there; the rest is drawn by a seed, as is a
scenario with few operating choices, so that the flat program ends within minutes.
"""

import random
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from optibox.catalog.attachment import Cable, NetworkLead
from optibox.catalog.catalog import Catalog
from optibox.catalog.platform import Board, Chassis, Cooler, Memory, PowerSupply
from optibox.catalog.read import read_catalog
from optibox.catalog.storage import HardDrive
from optibox.scenario import Scenario

SHIPPED = Path(__file__).parents[2] / "catalogs" / "invented"
SHARES = {
    "chassis": 3,
    "board": 4,
    "processor": 2,
    "cooler": 2,
    "memory": 4,
    "power supply": 4,
    "power lead": 2,
    "hard drive": 6,
    "solid-state drive": 3,
    "boot medium": 2,
    "drive adapter": 1,
    "controller": 3,
    "network card": 2,
    "network lead": 3,
    "cable": 5,
    "riser": 1,
    "mounting plate": 1,
    "display card": 1,
}
"""Parts of each kind in a catalog of about fifty."""


@dataclass(frozen=True)
class Middling:
    """A catalog of tens of parts with a question."""

    catalog: Catalog
    scenario: Scenario


@lru_cache(maxsize=1)
def shipped() -> Catalog:
    return read_catalog([SHIPPED])


def middling(seed: int, scale: float = 1.0) -> Middling:
    """Return the catalog and scenario of a seed; ``scale`` 1 is about 45 parts."""
    source = random.Random(seed)
    parts = []
    for kind, count in SHARES.items():
        offers = [p for p in shipped().parts if p.kind == kind]
        n = min(len(offers), max(1, round(count * scale)))
        parts += source.sample(offers, n)
    parts += _needed(parts)
    unique = {p.id: p for p in parts}
    catalog = Catalog(
        name=f"part of the shipped catalog, seed {seed}",
        currency=shipped().currency,
        date=None,
        is_invented=True,
        parts=tuple(unique.values()),
        postage=dict(shipped().postage),
    )
    # a source of its own: the question stays when the shipped catalog grows
    return Middling(catalog, _scenario(random.Random(f"question {seed}"), catalog))


def _needed(parts: list) -> list:
    """Return parts without which hardly any draw would give a machine."""
    every = shipped().parts
    boards = [p for p in parts if isinstance(p, Board)]
    cases = [p for p in parts if isinstance(p, Chassis)]
    needed = [p for p in every if isinstance(p, Cable) and p.direction == "single"][:1]
    needed += [
        p for p in every if isinstance(p, NetworkLead) and p.medium == "twisted pair"
    ][:1]
    for board in boards:
        needed += _first(
            every,
            Memory,
            lambda m, b=board: (
                m.memory_type == b.memory_type
                and m.form == b.memory_form
                and m.gib >= 8
            ),
        )
        needed += _first(
            every, PowerSupply, lambda u, b=board: u.power_plug == b.power_inlet
        )
        needed += _first(every, Cooler, lambda c, b=board: b.socket in c.sockets)
    for case in cases:
        needed += _first(every, PowerSupply, lambda u, c=case: u.form in c.supply_forms)
    needed += _first(
        every, HardDrive, lambda d: d.recording == "conventional" and d.tb == 4
    )
    return needed


def _first(parts, record, wanted) -> list:
    return [p for p in parts if isinstance(p, record) and wanted(p)][:1]


def _scenario(source: random.Random, catalog: Catalog) -> Scenario:
    pick = source.choice
    survived = pick((0, 1, 1, 1, 2))
    layouts = pick(
        (("independent",), ("independent", "pairs"), ("independent", "striped"))
    )
    asked = {
        "needs": {
            "usable_tb": pick((3.5, 6, 9, 12)),
            "failures_survived": survived,
            "read_mb_s": pick((0, 60, 90)),
            "write_mb_s": pick((0, 0, 50)),
            "ingest_mb_s": pick((0, 0, 150)),
        },
        "limits": {"array_drives": pick((3, 4, 5))},
        "usage": {
            "ingest_gb_per_day": pick((10, 40, 150)),
            "sessions_per_day": pick((1, 3, 10)),
        },
        "money": {"tariff_per_kwh": pick((0.2, 0.35)), "years": pick((4, 6))},
        "choices": {
            "layouts": layouts,
            "caches": pick(
                (("none",), ("none",), ("none", "mirror"), ("none", "single"))
            ),
            "timeouts_min": pick(((20,), (30, 120))),
            "allow_never": pick((True, False)),
        },
    }
    drives = [p for p in catalog.parts if isinstance(p, HardDrive)]
    if pick((True, False)):
        old = pick(drives)
        # the flat program knows nothing of data that must be moved
        asked["owned"] = (
            {
                "id": old.id,
                "count": pick((1, 2)),
                "starts": pick((0, 9000)),
                "holds_data": False,
            },
        )
    return Scenario.model_validate(asked)

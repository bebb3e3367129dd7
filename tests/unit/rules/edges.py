"""Both sides of the threshold of a rule: a machine that just keeps it, one that does not.

Thresholds are those of the trade: what a bay, a slot, a plug or a part itself says, or the
figure whose source stands beside it. The two machines of a pair differ in that one figure
by as little as it comes in, so that a threshold that is a few percent lax, or off by one,
is on the wrong side of one of them.
"""

from dataclasses import dataclass

from optibox.catalog.attachment import (
    Cable,
    Controller,
)
from optibox.catalog.platform import Cooler, Processor
from tests.unit.rules.bench import DRIVES, Bench
from tests.unit.rules.cases import (
    FORWARD,
    HBA,
    X4_SLOT,
    on,
)


@dataclass(frozen=True)
class Edge:
    """One finding, a machine without it and a machine with it."""

    name: str
    finding: str
    kept: Bench
    broken: Bench


EDGES: list[Edge] = []


def edge(name: str, finding: str, *, kept: dict, broken: dict, **both) -> None:
    """Enter a pair; what both machines have in common stands apart."""
    EDGES.append(
        Edge(
            name, finding, Bench(**_merged(both, kept)), Bench(**_merged(both, broken))
        )
    )


def _merged(both: dict, own: dict) -> dict:
    found = dict(both)
    for key, value in own.items():
        if not isinstance(value, dict) or key not in both:
            found[key] = value
            continue
        found[key] = dict(both[key])
        for part, change in value.items():
            old = both[key].get(part)
            if isinstance(old, tuple) and isinstance(change, dict):
                found[key][part] = (old[0], {**old[1], **change})
            elif isinstance(old, dict) and isinstance(change, dict):
                found[key][part] = {**old, **change}
            else:
                found[key][part] = change
    return found


CARD = {"slots": (("controller-1", "card", "P1"),)}
FOUR_PORTS = {
    "connectors": "4 sata",
    "native_ports": 4,
    "lanes": 4,
    "has_hot_plug": True,
}
SOCKETED = {
    "board": {"socket": "s1"},
    "processor": (Processor, {}),
    "cooler": (Cooler, {}),
}
SINGLE = {"operation": {"cache": "single"}, "needs": {"cache_mirror": False}}
SMALL = {"form": "2.5", "height_mm": 9.5}
MODULE = {
    "drives": (*DRIVES, ("cache-1", "cache", "cache")),
    "slots": (("cache-1", "cache", "M1"),),
    **SINGLE,
}
SOCKET = {"slots": "M1 m2 keyM 2280 x4 gen3 cpu nvme"}
ON_RISER = {
    "drives": (*DRIVES, ("cache-1", "cache", "cache")),
    "slots": (("riser-1", "riser", "P1"), ("cache-1", "cache", "riser-1.1")),
    **SINGLE,
}
TWO_ON_RISER = {
    "drives": (*DRIVES, ("cache-1", "cache", "cache"), ("cache-2", "cache", "cache")),
    "slots": (
        ("riser-1", "riser", "P1"),
        ("cache-1", "cache", "riser-1.1"),
        ("cache-2", "cache", "riser-1.2"),
    ),
    "operation": {"cache": "mirror"},
}
LARGE = {
    "case": {"bays_35": 24, "n_fans": 6},
    "board": {"sata_ports": 24},
    "supply": {
        "leads": "sata 6 | sata 6 | sata 6 | sata 6",
        "rail_12v_a": 80,
        "rated_w": 900,
        "rail_5v_a": 30,
    },
}

PLAIN_CARD = {"board": X4_SLOT, "card": (Controller, FOUR_PORTS)}
FORWARD_CARD = {
    "board": X4_SLOT,
    "card": (Controller, HBA),
    "fwd": (Cable, FORWARD),
}
ON_FORWARD = on("controller-1", connector=1, cable="fwd", piece="piece")


def members(n: int) -> tuple:
    """Return a stripe's drives, alternating between two models."""
    keys = ("hdd-a", "hdd-b")
    data = ((f"data-{i}", keys[i % 2], "data") for i in range(1, n + 1))
    return (*data, DRIVES[3])


def striped(n_parity: int) -> dict:
    return {"layout": "striped", "n_parity": n_parity, "write_mode": "plain"}

"""Machines with known faults, and every finding that a careful builder would note.

Each case changes the clean machine of ``bench`` in one or several things. What is
expected was written down from the trade before the rules were asked: rule and gravity
(E error, W warning, I information), complete. Sources stand beside the cases; where
none does, it is common practice, no source.
"""

from optibox.catalog.attachment import Cable, Controller, Riser
from optibox.catalog.platform import MountingPlate
from optibox.catalog.storage import SolidStateDrive
from tests.unit.rules import broken_hardware, broken_machine
from tests.unit.rules.bench import DRIVES, Bench
from tests.unit.rules.cases import (
    BOTH_PLUGS,
    CASES,
    FORWARD,
    HBA,
    NVME,
    ON_REVERSE,
    REVERSE,
    STRAIGHT,
    TRAYS_8087,
    X4_SLOT,
    Case,
    on,
)

__all__ = ["CASES", "CLEAN", "broken_hardware", "broken_machine"]

CLEAN: list[Case] = []


def clean(name: str, **bench) -> None:
    """Enter a machine about which nothing is to be said."""
    CLEAN.append(Case(name, Bench(**bench), ()))


clean("drives on the board")
clean(
    "a small supply on its plate",
    parts={"supply": {"form": "sfx"}, "plate": (MountingPlate, {})},
)
clean(
    "trays on a reverse breakout",
    parts={"case": TRAYS_8087, "supply": BOTH_PLUGS, "rev": (Cable, REVERSE)},
    wires=ON_REVERSE,
    spares=("rev",),
)
clean(
    "trays on a straight cable from a host bus adapter",
    parts={
        "case": TRAYS_8087,
        "supply": BOTH_PLUGS,
        "board": X4_SLOT,
        "card": (Controller, HBA),
        "str": (Cable, STRAIGHT),
    },
    slots=(("controller-1", "card", "P1"),),
    wires=on("controller-1", connector=1, cable="str", piece="piece"),
    spares=("str",),
)
clean(
    "SAS drives on a forward breakout",
    parts={
        "board": X4_SLOT,
        "card": (Controller, HBA),
        "fwd": (Cable, FORWARD),
        "hdd-a": {"interface": "sas"},
        "hdd-b": {"interface": "sas"},
    },
    slots=(("controller-1", "card", "P1"),),
    wires=on("controller-1", connector=1, cable="fwd", piece="piece"),
    spares=("fwd",),
)
clean(
    "mirrored cache of two modules on a riser in a slot that splits",
    parts={
        "board": {"slots": "P1 x8 gen3 cpu bifurcates"},
        "riser": (Riser, {"lanes": 8, "n_sockets": 2}),
        "cache": (SolidStateDrive, NVME),
    },
    drives=(*DRIVES, ("cache-1", "cache", "cache"), ("cache-2", "cache", "cache")),
    slots=(
        ("riser-1", "riser", "P1"),
        ("cache-1", "cache", "riser-1.1"),
        ("cache-2", "cache", "riser-1.2"),
    ),
    operation={"cache": "mirror"},
)
clean(
    "10 Gb/s over category 6A with large frames at both ends",
    parts={"board": {"network_gbit_s": 10}},
    needs={"other_end_gbit_s": 10},
    around={"mtu_b": 9000, "other_end_mtu_b": 9000, "ups_va": 900, "ups_minutes": 20},
)
clean(
    "pairs of two models",
    drives=(*DRIVES[:2], DRIVES[3]),
    operation={"layout": "pairs", "n_parity": 0, "write_mode": "plain"},
    needs={"usable_tb": 3},
)

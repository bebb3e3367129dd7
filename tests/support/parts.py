"""Tiny parts with round figures, for catalogs small enough to be tried out in full.

Every figure is invented. Figures are round, so that sums can be checked on paper.
"""

from optibox.catalog.attachment import (
    Cable,
    Controller,
    DisplayCard,
    NetworkCard,
    NetworkLead,
    Riser,
)
from optibox.catalog.catalog import Catalog
from optibox.catalog.columns import Part
from optibox.catalog.platform import (
    Board,
    Chassis,
    Cooler,
    Memory,
    MountingPlate,
    PowerLead,
    PowerSupply,
    Processor,
)
from optibox.catalog.storage import BootMedium, DriveAdapter, HardDrive, SolidStateDrive

_COMPUTES = {
    "parity_gb_s_per_core": 4,
    "encryption_gb_s_per_core": 1,
    "file_sharing_gb_s": 1,
}
_DEFAULTS: dict[type[Part], dict] = {
    Chassis: {
        "price": 50,
        "board_forms": "mini-itx | atx",
        "supply_forms": "atx",
        "bays_35": 4,
        "cooler_clearance_mm": 100,
        "bracket": "full",
        "card_clearance_mm": 250,
        "idle_w": 2,
        "fan_12v_a": 0.2,
    },
    Board: {
        "price": 100,
        "sata_ports": 4,
        "sata_uplink": "cpu",
        "chipset_lanes": 0,
        "network_uplink": "cpu",
        "memory_slots": 1,
        "has_graphics": True,
        "idle_w": 8,
        "active_w": 14,
        "deep_idle_loss_w": 3,
        "off_w": 1,
        **_COMPUTES,
    },
    Processor: {
        "price": 60,
        "socket": "s1",
        "tdp_w": 35,
        "idle_w": 2,
        "active_w": 20,
        "has_graphics": True,
        **_COMPUTES,
    },
    Cooler: {"price": 10, "sockets": "s1", "height_mm": 50, "tdp_w": 65, "idle_w": 1},
    Memory: {"price": 20, "memory_type": "ddr4", "gib": 8, "idle_w": 1},
    PowerSupply: {
        "price": 40,
        "form": "atx",
        "rated_w": 300,
        "loss_fixed_w": 3,
        "loss_share": 0.1,
        "loss_square": 0.02,
        "rail_12v_a": 20,
        "rail_5v_a": 15,
        "leads": "sata 4 | sata 4",
        "off_w": 1,
    },
    PowerLead: {
        "price": 3,
        "takes_plug": "peripheral",
        "gives_plug": "sata",
        "is_moulded": "no",
    },
    MountingPlate: {"price": 5, "supply_form": "sfx", "opening_form": "atx"},
    HardDrive: {
        "price": 100,
        "tb": 4,
        "recording": "conventional",
        "has_power_disable": "no",
        "side_holes": "all",
        "outer_rate_mb_s": 180,
        "inner_ratio": 0.5,
        "idle_w": 4,
        "active_w": 5,
        "standby_w": 0.5,
        "run_5v_a": 0.5,
        "spin_up_12v_a": 2,
        "run_12v_a": 0.4,
        "spin_up_s": 10,
        "spin_up_j": 100,
        "start_stop_rating": 50_000,
        "load_unload_rating": 300_000,
        "annual_failure_rate": 0.02,
    },
    SolidStateDrive: {
        "price": 40,
        "tb": 0.25,
        "interface": "sata",
        "form": "2.5",
        "idle_w": 0.5,
        "active_w": 2,
        "run_5v_a": 0.8,
        "annual_failure_rate": 0.01,
        "read_mb_s": 500,
        "write_mb_s": 400,
        "tbw": 100,
    },
    BootMedium: {"price": 10, "interface": "usb", "idle_w": 0.2, "run_5v_a": 0.1},
    DriveAdapter: {"price": 4, "max_height_mm": 15},
    Controller: {
        "price": 30,
        "generation": 3,
        "lanes": 1,
        "bracket": "both",
        "idle_w": 2,
        "active_w": 3,
        "blocks_deep_idle": "no",
        "connectors": "2 sata",
        "native_ports": 2,
        "topology": "native",
        "pass_through": "yes",
        "passes_standby": "yes",
    },
    NetworkCard: {
        "price": 50,
        "generation": 3,
        "lanes": 4,
        "bracket": "both",
        "idle_w": 3,
        "active_w": 5,
        "blocks_deep_idle": "no",
        "network_gbit_s": 10,
    },
    Riser: {
        "price": 15,
        "generation": 3,
        "lanes": 4,
        "bracket": "both",
        "idle_w": 0,
        "active_w": 0,
        "blocks_deep_idle": "no",
    },
    DisplayCard: {
        "price": 25,
        "generation": 2,
        "lanes": 1,
        "bracket": "both",
        "idle_w": 4,
        "active_w": 4,
        "blocks_deep_idle": "no",
    },
    Cable: {
        "price": 3,
        "direction": "single",
        "controller_end": "sata",
        "drive_end": "sata",
    },
    NetworkLead: {
        "price": 5,
        "medium": "twisted pair",
        "network_gbit_s": 10,
        "type": "cat6a",
        "idle_w": 0,
    },
}


def make(record: type[Part], part_id: str, **changes) -> Part:
    """Return a part of a kind: its round figures with some of them changed."""
    return record.model_validate({"id": part_id, **_DEFAULTS[record], **changes})


def plain_parts() -> dict[str, Part]:
    """Return one part of each kind that no machine can do without, by id."""
    parts = [
        make(Chassis, "case"),
        make(Board, "board"),
        make(PowerSupply, "supply"),
        make(Memory, "memory"),
        make(BootMedium, "boot"),
        make(NetworkLead, "lead"),
        make(Cable, "cable"),
        make(HardDrive, "hdd-4"),
    ]
    return {part.id: part for part in parts}


def catalog_of(parts, postage=None) -> Catalog:
    """Return a catalog of parts."""
    return Catalog(
        name="tiny",
        currency="",
        date=None,
        is_invented=True,
        parts=tuple(parts),
        postage=dict(postage or {}),
    )

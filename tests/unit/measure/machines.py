"""A machine to measure: two kinds of card, a cache, four drives; all figures invented."""

from optibox.build import (
    Build,
    Connection,
    DriveUse,
    Item,
    ItemCount,
    OperatingPlan,
    SlotUse,
)
from optibox.catalog.attachment import Cable, Controller, NetworkCard, NetworkLead
from optibox.catalog.platform import Board, Chassis, Memory, PowerSupply
from optibox.catalog.storage import BootMedium, HardDrive, SolidStateDrive
from optibox.machine import machine_of
from optibox.scenario import Scenario
from tests.support.parts import make

LOSSLESS = {"loss_fixed_w": 0, "loss_share": 0, "loss_square": 0}


def scenario(**tables):
    return Scenario.model_validate(
        {
            "needs": {"usable_tb": 8, "failures_survived": 1},
            "money": {"tariff_per_kwh": 0.3},
            **tables,
        }
    )


def parts(supply=None, **changes):
    """Return the parts by id; ``changes`` replace figures of one of them."""
    made = {
        "case": (Chassis, {"bays_35": 4, "bays_25": 2}),
        "board": (Board, {"slots": "P1 x4 gen3 cpu | P2 x1 gen3 cpu | P3 x1 gen3 cpu"}),
        "memory": (Memory, {}),
        "supply": (PowerSupply, supply or {}),
        "boot": (BootMedium, {}),
        "lead": (NetworkLead, {}),
        "cable": (Cable, {}),
        "net": (NetworkCard, {"blocks_deep_idle": "no"}),
        "ctl": (Controller, {"blocks_deep_idle": "no"}),
        "ssd": (SolidStateDrive, {}),
        "hdd": (HardDrive, {}),
    }
    return {
        name: make(record, name, **{**own, **changes.get(name, {})})
        for name, (record, own) in made.items()
    }


def build(found=None, **plan):
    """Return the machine: four drives on two controllers, two cache drives on board."""
    found = found or parts()
    counts = {"ssd": 2, "hdd": 4, "ctl": 2, "cable": 6}
    drives = [("data-1", "hdd", "data"), ("data-2", "hdd", "data")]
    drives += [("data-3", "hdd", "data"), ("parity-1", "hdd", "parity")]
    drives += [("cache-1", "ssd", "cache"), ("cache-2", "ssd", "cache")]
    hosts = ["ctl-1", "ctl-1", "ctl-2", "ctl-2", "board", "board"]
    ports = [1, 2, 1, 2, 1, 2]
    wires = [
        Connection(
            drive=drive[0],
            bay=f"{'3.5' if drive[1] == 'hdd' else '2.5'}-{number % 4 + 1}",
            cable=f"cable-{number}",
            cable_key="cable",
            host=host,
            connector=port,
        )
        for number, (drive, host, port) in enumerate(
            zip(drives, hosts, ports, strict=True)
        )
    ]
    plan = {
        "layout": "independent",
        "n_parity": 1,
        "write_mode": "read-modify-write",
        "cache": "mirror",
        "timeout_min": 30,
        **plan,
    }
    return Build(
        items=tuple(
            ItemCount(item=Item(key=name, part=part), count=counts.get(name, 1))
            for name, part in found.items()
        ),
        drives=(
            *(DriveUse(name=n, key=k, role=r) for n, k, r in drives),
            DriveUse(name="boot-1", key="boot", role="boot"),
        ),
        connections=tuple(wires),
        slots=(
            SlotUse(name="net-1", key="net", slot="P1"),
            SlotUse(name="ctl-1", key="ctl", slot="P2"),
            SlotUse(name="ctl-2", key="ctl", slot="P3"),
        ),
        operation=OperatingPlan(**plan),
    )


def machine(found=None, asked=None, **plan):
    return machine_of(build(found, **plan), asked or scenario())

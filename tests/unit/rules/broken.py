"""Machines with known faults, and every finding that a careful builder would note.

Each case changes the clean machine of ``bench`` in one or several things. What is
expected was written down from the trade before the rules were asked: rule and gravity
(E error, W warning, I information), complete. Sources stand beside the cases; where
none does, it is common practice, no source.
"""

from dataclasses import dataclass

from optibox.catalog.attachment import (
    Cable,
    Controller,
    DisplayCard,
    NetworkCard,
    Riser,
)
from optibox.catalog.platform import Cooler, MountingPlate, PowerLead, Processor
from optibox.catalog.storage import BootMedium, DriveAdapter, HardDrive, SolidStateDrive
from tests.unit.rules.bench import DRIVES, Bench


@dataclass(frozen=True)
class Case:
    """One machine with all that is to be said about it."""

    name: str
    bench: Bench
    expected: tuple[str, ...]


CASES: list[Case] = []


def case(name: str, expected: str, **bench) -> None:
    """Enter a machine with its findings, such as 'F1 E, C3 E'."""
    told = tuple(sorted(filter(None, (word.strip() for word in expected.split(",")))))
    CASES.append(Case(name, Bench(**bench), told))


HDD = {"has_bounded_recovery": "yes", "is_vibration_rated": True}
NVME = {
    "form": "m2",
    "interface": "nvme",
    "module_key": "M",
    "module_length_mm": 80,
    "generation": 3,
    "lanes": 4,
    "has_power_loss_protection": True,
}
SATA_SSD = {"has_power_loss_protection": True}
HBA = {
    "connectors": "1 sff-8087",
    "native_ports": 4,
    "lanes": 4,
    "speaks_sas": True,
    "has_hot_plug": True,
}
FORWARD = {"direction": "forward", "controller_end": "sff-8087"}
REVERSE = {"direction": "reverse", "drive_end": "sff-8087", "has_sideband": True}
STRAIGHT = {
    "direction": "straight",
    "controller_end": "sff-8087",
    "drive_end": "sff-8087",
    "has_sideband": True,
}
TRAYS_8087 = {"backplane_connector": "sff-8087", "backplane_power": "peripheral 1"}
BOTH_PLUGS = {"leads": "sata 4 | peripheral 2"}
ON_REVERSE = {
    name: {"cable": "piece", "cable_key": "rev"}
    for name in ("data-1", "data-2", "parity-1")
}
X4_SLOT = {"slots": "P1 x4 gen3 cpu | P2 x4 gen3 cpu"}


def on(
    host: str, *, connector: int | None = None, cable: str = "", piece: str = ""
) -> dict:
    """Return the array's drives moved to a host: its plain ports, or one connector."""
    wires = {}
    for number, name in enumerate(("data-1", "data-2", "parity-1"), 1):
        wires[name] = {"host": host}
        if connector is None:
            wires[name] |= {"connector": number}
        else:
            wires[name] |= {"connector": connector, "port": number}
        if cable:
            wires[name] |= {"cable_key": cable, "cable": piece or f"cable-{number}"}
    return wires


def more_drives(n: int, key: str = "hdd-b") -> tuple:
    """Return the clean machine's drives with so many more data drives."""
    return (*DRIVES, *((f"data-{i}", key, "data") for i in range(3, 3 + n)))


# --- mechanics and air -------------------------------------------------------------
case("board too large for the case", "F1 E", parts={"board": {"form": "e-atx"}})
case("two drives in one bay", "F2 E", wires={"data-2": {"bay": "3.5-1"}})
case("drive in a bay that is not there", "F2 E", wires={"data-2": {"bay": "3.5-9"}})
case("large drive in a small bay", "F2 E", wires={"data-2": {"bay": "2.5-1"}})
case(
    "small drive in a large bay without a frame",
    "F2 E",
    parts={"hdd-b": {"form": "2.5", "height_mm": 7}},
    wires={"data-2": {"bay": "3.5-2"}},
)
case(
    "15 mm drive in a bay for 9.5 mm",
    "F2 E",
    parts={"hdd-b": {"form": "2.5", "height_mm": 15}},
    wires={"data-2": {"bay": "2.5-2"}},
)
case(
    "two frames in use, one on the list",
    "F2a E",
    parts={"hdd-a": {"form": "2.5", "height_mm": 7}, "frame": (DriveAdapter, {})},
    wires={
        "data-1": {"bay": "3.5-1", "adapter_key": "frame"},
        "parity-1": {"bay": "3.5-3", "adapter_key": "frame"},
    },
    counts={"frame": 1},
)
case(
    "drives without middle holes on trays that use nothing else",
    "F3 E",
    parts={
        "case": {"tray_holes": "middle side only"},
        "hdd-a": {"side_holes": "no middle side"},
    },
)
case(
    "drives of unknown holes on such trays",
    "F3 W",
    parts={
        "case": {"tray_holes": "middle side only"},
        "hdd-a": {"side_holes": "unknown"},
    },
)
case(
    "tower cooler in a flat case",
    "F4 E",
    parts={
        "case": {"cooler_clearance_mm": 60},
        "board": {"socket": "s1"},
        "processor": (Processor, {}),
        "cooler": (Cooler, {"height_mm": 150}),
    },
)
case(
    "full-height card in a slim case",
    "F5 E",
    parts={
        "case": {"bracket": "low"},
        "board": X4_SLOT,
        "card": (Controller, {"bracket": "full", "has_hot_plug": True}),
    },
    slots=(("controller-1", "card", "P1"),),
)
case(
    "card longer than the case",
    "F5 E",
    parts={
        "case": {"card_clearance_mm": 160},
        "board": X4_SLOT,
        "card": (Controller, {"length_mm": 168}),
    },
    slots=(("controller-1", "card", "P1"),),
)
case("small supply in a large opening", "F6 E", parts={"supply": {"form": "sfx"}})
case(
    "five drives and no fan",
    "F7 W",
    parts={"case": {"n_fans": 0}, "supply": {"rail_12v_a": 20}},
    drives=more_drives(2),
)
case(
    "passive hot card in a tower",
    "F8 W",
    parts={
        "board": X4_SLOT,
        "card": (NetworkCard, {"needs_airflow": True, "network_gbit_s": 1}),
    },
    slots=(("network-1", "card", "P1"),),
)
case(
    "six plain drives in one cage",
    "F9 I",
    parts={
        "hdd-a": {"is_vibration_rated": False},
        "hdd-b": {"is_vibration_rated": False},
        "supply": {"rail_12v_a": 25},
    },
    drives=more_drives(3),
)

# --- ports, backplanes, cables -----------------------------------------------------
case("drive that was never connected", "C1 E", wires={"data-2": None})
case("two drives on one port", "C1 E", wires={"data-2": {"connector": 1}})
case("port that is not there", "C1 E", wires={"data-2": {"connector": 9}})
case(
    # a board that says so: the socket in SATA mode turns a port off
    "a module takes the last port away",
    "C1 E",
    parts={
        "board": {
            "sata_ports": 3,
            "slots": "M1 m2 keyM 2280 x2 gen3 cpu nvme+sata",
            "sharing": "M1 sata -> ports -1",
        },
        "module": (
            BootMedium,
            {"interface": "m2", "module_mode": "sata", "module_length_mm": 80},
        ),
    },
    drives=(*DRIVES[:3], ("boot-1", "module", "boot")),
    slots=(("boot-1", "module", "M1"),),
)
case(
    "cable for another multi-lane connector",
    "C2 E",
    parts={
        "case": {**TRAYS_8087, "backplane_connector": "sff-8643"},
        "supply": BOTH_PLUGS,
        "rev": (Cable, {**REVERSE}),
    },
    wires=ON_REVERSE,
    spares=("cable", "rev"),
)
case(
    # forward and reverse breakouts look alike; the trade's best-known wrong purchase
    "forward breakout between board and backplane",
    "C3 E",
    parts={
        "case": TRAYS_8087,
        "supply": BOTH_PLUGS,
        "rev": (Cable, {**FORWARD, "has_sideband": True}),
    },
    wires=ON_REVERSE,
    spares=("cable", "rev"),
)
case(
    "backplane without any cable",
    "C3 E",
    parts={"case": TRAYS_8087, "supply": BOTH_PLUGS},
    wires={n: {"cable_key": "", "cable": f"{n}-none"} for n in ON_REVERSE},
)
case("one plain cable for two drives", "C4 E", wires={"data-2": {"cable": "cable-1"}})
case("fewer cables than drives", "C4 E", counts={"cable": 2})
case(
    "one breakout for five bays",
    "C4 E",
    parts={
        "case": TRAYS_8087,
        "supply": {**BOTH_PLUGS, "rail_12v_a": 25},
        "rev": (Cable, REVERSE),
    },
    drives=more_drives(2),
    wires={
        name: {"cable": "piece", "cable_key": "rev"}
        for name in ("data-1", "data-2", "parity-1", "data-3", "data-4")
    },
    spares=("cable", "rev"),
    sections={"overrides": {"peripheral_lead_a": 20}},
)
case(
    "one breakout with legs on board and controller",
    "C4 W",
    parts={
        "case": TRAYS_8087,
        "supply": BOTH_PLUGS,
        "rev": (Cable, REVERSE),
        "board": X4_SLOT,
        "card": (Controller, {"has_hot_plug": True}),
    },
    slots=(("controller-1", "card", "P1"),),
    wires={**ON_REVERSE, "data-2": {**ON_REVERSE["data-2"], "host": "controller-1"}},
    spares=("rev",),
)
case("SAS drive on the board", "C5 E", parts={"hdd-b": {"interface": "sas"}})
case(
    # 1 m: Serial ATA specification, quoted from memory
    "cables of one and a half metres",
    "C6 W",
    parts={"cable": {"length_m": 1.5}},
)
case(
    "reverse breakout without the lamps' wires",
    "C7 W",
    parts={
        "case": TRAYS_8087,
        "supply": BOTH_PLUGS,
        "rev": (Cable, {**REVERSE, "has_sideband": False}),
    },
    wires=ON_REVERSE,
    spares=("cable", "rev"),
)
case("two power plugs for three drives", "C8 E", parts={"supply": {"leads": "sata 2"}})
case(
    "splitter on a plug that the supply does not have",
    "C8 E",
    parts={
        "supply": {"leads": "peripheral 3"},
        "tap": (PowerLead, {"takes_plug": "sata", "fan_out": 2, "is_moulded": "no"}),
    },
)
case(
    "moulded adapter",
    "C8a E",
    parts={
        "supply": {"leads": "sata 2 | peripheral 2"},
        "tap": (PowerLead, {"is_moulded": "yes"}),
    },
)
case(
    "adapter that may be moulded",
    "C8a W",
    parts={
        "supply": {"leads": "sata 2 | peripheral 2"},
        "tap": (PowerLead, {"is_moulded": "unknown"}),
    },
)
case(
    # 3 pins of 1.5 A: Serial ATA specification, quoted from memory
    "four drives of 2 A on one SATA plug",
    "C9 E",
    parts={
        "supply": {"leads": "sata 1"},
        "tap": (PowerLead, {"takes_plug": "sata", "fan_out": 4, "is_moulded": "no"}),
    },
)
case(
    "five trays on one 4-pin lead",
    "C9 E",
    parts={
        "case": {"backplane_connector": "sata", "backplane_power": "peripheral 1"},
        "supply": {"leads": "sata 1 | peripheral 2", "rail_12v_a": 25},
    },
    drives=more_drives(2),
)
case(
    "power-disable drives on leads with 3.3 V",
    "C10 E",
    parts={"hdd-a": {"has_power_disable": "yes"}},
)
case(
    "power-disable drives on leads without it",
    "C10 I",
    parts={"hdd-a": {"has_power_disable": "yes"}, "supply": {"carries_3v3": False}},
)
case(
    "drives that may have power-disable",
    "C10 W",
    parts={"hdd-a": {"has_power_disable": "unknown"}},
)
case(
    "five plugs on a chip with one port",
    "C11 E, C12 W",
    parts={
        "board": X4_SLOT,
        "card": (
            Controller,
            {
                "connectors": "5 sata",
                "native_ports": 1,
                "topology": "multiplier",
                "switching": "fis",
                "has_hot_plug": True,
                "lanes": 4,
            },
        ),
    },
    slots=(("controller-1", "card", "P1"),),
    wires=on("controller-1"),
)
case(
    "the same where multipliers are allowed",
    "C11 W, C12 W",
    parts={
        "board": X4_SLOT,
        "card": (
            Controller,
            {
                "connectors": "5 sata",
                "native_ports": 1,
                "topology": "multiplier",
                "switching": "fis",
                "has_hot_plug": True,
                "lanes": 4,
            },
        ),
    },
    slots=(("controller-1", "card", "P1"),),
    wires=on("controller-1"),
    sections={"choices": {"allow_multipliers": True}},
)
case(
    "hot-swap asked for, case without trays",
    "C13 E",
    parts={"case": {"has_hot_plug": False}},
    needs={"hot_swap": True},
)
case("ports that want the power off", "C13 I", parts={"board": {"has_hot_plug": False}})
case("no cable on the shelf", "C14 I", spares=())

# --- slots, lanes, sockets ---------------------------------------------------------
case(
    "x4 card, closed x1 slot",
    "L1 E, L2 I",
    parts={
        "board": {"slots": "P1 x1 gen3 cpu"},
        "card": (NetworkCard, {"network_gbit_s": 1}),
    },
    slots=(("network-1", "card", "P1"),),
)
case(
    "card in a slot that the board does not have",
    "L1 E",
    parts={"card": (DisplayCard, {})},
    slots=(("display-1", "card", "P9"),),
)
case(
    # 250 MB/s a lane of generation 1 (PCI-SIG base specification), 212 planned
    "three drives behind one lane of generation 1",
    "L2 W",
    parts={
        "board": {"slots": "P1 x4@1 gen1 cpu"},
        "card": (
            Controller,
            {
                "connectors": "4 sata",
                "native_ports": 4,
                "lanes": 4,
                "has_hot_plug": True,
            },
        ),
    },
    slots=(("controller-1", "card", "P1"),),
    wires=on("controller-1"),
)
case(
    "NVMe module in a socket for SATA",
    "L3 E",
    parts={
        "board": {"slots": "M1 m2 keyM 2280 x2 gen3 cpu sata"},
        "cache": (SolidStateDrive, NVME),
    },
    drives=(*DRIVES, ("cache-1", "cache", "cache")),
    slots=(("cache-1", "cache", "M1"),),
    operation={"cache": "single"},
    needs={"cache_mirror": False},
)
CASES[-1] = Case(CASES[-1].name, CASES[-1].bench, ("A7 W", "L3 E"))
case(
    "module of 110 mm in a socket for 80",
    "L3 E, A7 W",
    parts={
        "board": {"slots": "M1 m2 keyM 2280 x4 gen3 cpu nvme"},
        "cache": (SolidStateDrive, {**NVME, "module_length_mm": 110}),
    },
    drives=(*DRIVES, ("cache-1", "cache", "cache")),
    slots=(("cache-1", "cache", "M1"),),
    operation={"cache": "single"},
    needs={"cache_mirror": False},
)
case(
    "slot turned off by its neighbour",
    "L4 E",
    parts={
        "board": {
            "slots": "P1 x4 gen3 cpu | P2 x4 gen3 cpu",
            "sharing": "P1 -> P2 off",
        },
        "card": (Controller, {"has_hot_plug": True}),
    },
    slots=(("controller-1", "card", "P1"), ("controller-2", "card", "P2")),
)
case(
    "two cards in one slot",
    "L4 E",
    parts={"board": X4_SLOT, "card": (Controller, {"has_hot_plug": True})},
    slots=(("controller-1", "card", "P1"), ("controller-2", "card", "P1")),
)
case(
    "passive riser for two modules in a slot that does not split",
    "L5 E",
    parts={
        "board": {"slots": "P1 x8 gen3 cpu"},
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
case(
    "module on a riser in a slot of one lane",
    "A7 W, L2 I, L5 I",
    parts={
        "board": {"slots": "P1 x4@1 gen3 cpu"},
        "riser": (Riser, {}),
        "cache": (SolidStateDrive, NVME),
    },
    drives=(*DRIVES, ("cache-1", "cache", "cache")),
    slots=(("riser-1", "riser", "P1"), ("cache-1", "cache", "riser-1.1")),
    operation={"cache": "single"},
    needs={"cache_mirror": False},
)
case(
    "more lanes in use than the processor has",
    "L6 E",
    parts={
        "board": {"slots": "P1 x4 gen3 cpu | P2 x4 gen3 cpu", "cpu_lanes": 4},
        "card": (
            Controller,
            {"lanes": 4, "has_hot_plug": True},
        ),
    },
    slots=(("controller-1", "card", "P1"), ("controller-2", "card", "P2")),
)
case(
    "riser at generation 4",
    "L7 W, A7 W",
    parts={
        "board": {"slots": "P1 x4 gen4 cpu"},
        "riser": (Riser, {"generation": 4}),
        "cache": (SolidStateDrive, {**NVME, "generation": 4}),
    },
    drives=(*DRIVES, ("cache-1", "cache", "cache")),
    slots=(("riser-1", "riser", "P1"), ("cache-1", "cache", "riser-1.1")),
    operation={"cache": "single"},
    needs={"cache_mirror": False},
)
case(
    "card that keeps the processor awake",
    "L8 W",
    parts={"board": X4_SLOT, "card": (Controller, {"blocks_deep_idle": "yes"})},
    slots=(("controller-1", "card", "P1"),),
)
case("nothing shows the firmware", "L9 E", parts={"board": {"has_graphics": False}})

# --- memory, processor, boot, firmware ---------------------------------------------
case("memory of another type", "M1 E", parts={"memory": {"memory_type": "ddr5"}})
case(
    "three modules, two sockets",
    "M1 E",
    counts={"memory": 3},
)
case("correction asked for, plain modules", "M2 E", needs={"ecc": True})
case("check bits that nothing reads", "M2 W", parts={"memory": {"has_ecc": True}})
case(
    "processor for another socket",
    "M3 E",
    parts={
        "board": {"socket": "s1"},
        "processor": (Processor, {"socket": "s2"}),
        "cooler": (Cooler, {"sockets": "s1 | s2"}),
    },
)
case(
    "cooler too weak",
    "M3 E",
    parts={
        "board": {"socket": "s1"},
        "processor": (Processor, {"tdp_w": 95}),
        "cooler": (Cooler, {"tdp_w": 65}),
    },
)
case(
    "encryption without instructions for it",
    "M4 W",
    parts={"board": {"encryption_gb_s_per_core": 0.15}},
    needs={"encryption": True},
)
case("no boot device", "B1 E", drives=DRIVES[:3])
case("no place for the stick", "B1 E", parts={"board": {"usb_headers": 0}})
case("plain flash to boot from", "B2 W", parts={"boot": {"is_flash_stick": True}})
case(
    "controller that shows volumes",
    "B3 E",
    parts={
        "board": X4_SLOT,
        "card": (Controller, {"pass_through": "no", "has_hot_plug": True}),
    },
    slots=(("controller-1", "card", "P1"),),
)
case(
    "controller that wants new firmware first",
    "B3 W",
    parts={
        "board": X4_SLOT,
        "card": (Controller, {"pass_through": "after new firmware"}),
    },
    slots=(("controller-1", "card", "P1"),),
)
case(
    # 2^32 sectors of 512 bytes are 2.2 TB
    "4 TB drives on a controller with 32-bit addresses",
    "B4 E",
    parts={
        "board": X4_SLOT,
        "card": (Controller, {**HBA, "has_32_bit_addresses": True}),
        "fwd": (Cable, FORWARD),
    },
    slots=(("controller-1", "card", "P1"),),
    wires=on("controller-1", connector=1, cable="fwd", piece="piece"),
    spares=("fwd",),
)
case(
    "controller that never lets drives sleep",
    "B5 E",
    parts={
        "board": X4_SLOT,
        "card": (
            Controller,
            {
                "connectors": "4 sata",
                "native_ports": 4,
                "lanes": 4,
                "passes_standby": "no",
                "has_hot_plug": True,
            },
        ),
    },
    slots=(("controller-1", "card", "P1"),),
    wires=on("controller-1"),
)

case(
    "controller of which nobody knows whether drives sleep behind it",
    "B5 W",
    parts={
        "board": X4_SLOT,
        "card": (
            Controller,
            {
                "connectors": "4 sata",
                "native_ports": 4,
                "lanes": 4,
                "passes_standby": "unknown",
                "has_hot_plug": True,
            },
        ),
    },
    slots=(("controller-1", "card", "P1"),),
    wires=on("controller-1"),
)

# --- supply ------------------------------------------------------------------------
case("12 V too weak for the spin-up", "P1 E", parts={"supply": {"rail_12v_a": 8}})
case("12 V just enough for all at once", "P1 W", parts={"supply": {"rail_12v_a": 10.5}})
case(
    "a stripe that wakes as one",
    "P2 W",
    parts={"board": {"has_staggered_spin_up": True}, "supply": {"rail_12v_a": 10.5}},
    drives=(*DRIVES[:2], ("data-3", "hdd-a", "data"), DRIVES[3]),
    operation={"layout": "striped", "n_parity": 1, "write_mode": "plain"},
)
case(
    "a stripe that wakes as one, over the rail",
    "P2 E",
    parts={"board": {"has_staggered_spin_up": True}, "supply": {"rail_12v_a": 8}},
    drives=(*DRIVES[:2], ("data-3", "hdd-a", "data"), DRIVES[3]),
    operation={"layout": "striped", "n_parity": 1, "write_mode": "plain"},
)
case("5 V too weak", "P3 E", parts={"supply": {"rail_5v_a": 1.2}})
case("a supply for a workstation", "P4 I", parts={"supply": {"rated_w": 650}})
case("plugs of an external brick", "P5 E", parts={"board": {"power_inlet": "dc"}})
case("battery too small", "P6 W", around={"ups_va": 150, "ups_minutes": 30})
case("battery too short", "P6 W", around={"ups_va": 600, "ups_minutes": 2})

# --- array and cache ---------------------------------------------------------------
case(
    "two parity drives, layout with one",
    "A0 E",
    drives=(*DRIVES[:3], ("parity-2", "hdd-b", "parity"), DRIVES[3]),
    parts={"supply": {"rail_12v_a": 20}},
)
case("parity smaller than data", "A1 E", parts={"hdd-b": {"tb": 6}})
case(
    "stripe of unequal drives",
    "A2 I",
    parts={"hdd-b": {"tb": 6}},
    drives=(*DRIVES[:2], ("data-3", "hdd-a", "data"), DRIVES[3]),
    operation={"layout": "striped", "n_parity": 1, "write_mode": "plain"},
)
case(
    "512 and 4096 bytes a sector in one group",
    "A3 E",
    parts={"hdd-b": {"sector_logical_b": 4096}},
)
case("shingled parity", "A4 E, A4 W", parts={"hdd-a": {"recording": "shingled"}})
case("shingled data drive", "A4 W", parts={"hdd-b": {"recording": "shingled"}})
case(
    "shingled member of a stripe",
    "A4 E",
    parts={"hdd-b": {"recording": "shingled"}},
    drives=(*DRIVES[:2], ("data-3", "hdd-a", "data"), DRIVES[3]),
    operation={"layout": "striped", "n_parity": 1, "write_mode": "plain"},
)
case(
    "three drives of one purchase",
    "A5 W",
    drives=(DRIVES[0], ("data-2", "hdd-a", "data"), *DRIVES[2:]),
)
case(
    "drives that ponder, behind a controller that does not wait",
    "A6 W",
    parts={
        "board": X4_SLOT,
        "card": (Controller, HBA),
        "fwd": (Cable, FORWARD),
        "hdd-b": {"has_bounded_recovery": "no"},
    },
    slots=(("controller-1", "card", "P1"),),
    wires=on("controller-1", connector=1, cable="fwd", piece="piece"),
    spares=("fwd",),
)
case(
    "one cache drive where a mirror is required",
    "A7 E",
    parts={"ssd": (SolidStateDrive, SATA_SSD)},
    drives=(*DRIVES, ("cache-1", "ssd", "cache")),
    wires={"cache-1": {"bay": "2.5-1"}},
    operation={"cache": "single"},
)
case(
    "mirrored cache that forgets on a power cut",
    "A7 W",
    parts={"ssd": (SolidStateDrive, {"has_power_loss_protection": False})},
    drives=(*DRIVES, ("cache-1", "ssd", "cache"), ("cache-2", "ssd", "cache")),
    wires={"cache-1": {"bay": "2.5-1"}, "cache-2": {"bay": "2.5-2"}},
    operation={"cache": "mirror"},
)
case(
    "pending sectors",
    "A8 E",
    owned={"hdd-b": {"pending_sectors": 8}},
)
case(
    "parity of 45 000 hours",
    "A8 W",
    owned={"hdd-a": {"age_years": 5.5, "hours": 45_000}},
)
case(
    "nine data drives behind one parity",
    "A9 W",
    parts={
        "case": {"bays_35": 12, "n_fans": 3},
        "board": {"sata_ports": 12, "idle_w": 45, "active_w": 50},
        "supply": {
            "leads": "sata 6 | sata 6", "rail_12v_a": 40, "rated_w": 370, "rail_5v_a": 9,
        },
    },
    drives=more_drives(7),
)  # fmt: skip
case("slow parity", "A10 W", parts={"hdd-a": {"outer_rate_mb_s": 120}, "hdd-b": {}},
     drives=(("data-1", "hdd-b", "data"), ("data-2", "hdd-c", "data"), *DRIVES[2:]))  # fmt: skip
CASES[-1].bench.parts["hdd-c"] = (HardDrive, {**HDD})
case(
    "8 TiB asked for, 8 TB there",
    "A11 E",
    needs={"usable_tb": None, "usable_tib": 7.5},
)
case(
    "a timeout that eats the drives",
    "W1 E",
    parts={"hdd-a": {"start_stop_rating": 1000}, "hdd-b": {"start_stop_rating": 1000}},
    operation={"timeout_min": 5},
)
case(
    # 5 TB a day over a gigabit port take more than twelve hours
    "more a day than half a day takes in",
    "T1 E",
    sections={"usage": {"ingest_gb_per_day": 5000}},
)

# --- network -----------------------------------------------------------------------
case("reading slower than needed", "N1 E", needs={"read_mb_s": 110})
case("no lead", "N1 E", counts={"lead": 0})
case("other plug at the other end", "N1 E", needs={"other_end_medium": "sfp+"})
case(
    # category 5e is outside IEEE 802.3an, quoted from memory
    "10 Gb/s over category 5e",
    "N2 W",
    parts={
        "board": {"network_gbit_s": 10},
        "lead": {"type": "cat5e", "network_gbit_s": 1},
    },
    needs={"other_end_gbit_s": 10},
)
case(
    # 55 m of category 6 at 10 Gb/s: IEEE 802.3an, quoted from memory
    "10 Gb/s over 80 m of category 6",
    "N2 W",
    parts={"board": {"network_gbit_s": 10}, "lead": {"type": "cat6", "length_m": 80}},
    needs={"other_end_gbit_s": 10},
)
case("large frames at one end", "N3 W", around={"mtu_b": 9000, "other_end_mtu_b": 1500})

# --- what is asked, completeness ---------------------------------------------------
case("two failures to survive", "D1 E", needs={"failures_survived": 2})
case("asleep above the limit", "D2 E", sections={"limits": {"asleep_w": 12}})
case("too high for its rack", "D3 E", sections={"limits": {"rack_units": 1}})
case("memory below the need", "D4 E", needs={"memory_gib": 16})
case("no memory", "K1 E, D4 E", counts={"memory": 0})
case("a drive on the list that is nowhere", "K2 E", counts={"hdd-b": 2})

# --- several things at once --------------------------------------------------------
case(
    "a first build: brick for a board with 24 pins, moulded adapter, no fan, one purchase",
    "A5 W, C8a E, F7 W, P1 E, P5 E",
    parts={
        "case": {"n_fans": 0},
        "supply": {
            "form": "brick", "power_plug": "dc", "cpu_power_plugs": 0, "rail_12v_a": 9,
            "leads": "sata 3 | peripheral 2",
        },
        "tap": (PowerLead, {"is_moulded": "yes"}),
    },
    drives=(
        ("data-1", "hdd-a", "data"), ("data-2", "hdd-a", "data"),
        ("data-3", "hdd-a", "data"), ("parity-1", "hdd-a", "parity"), DRIVES[3],
    ),
)  # fmt: skip
case(
    "a used server: old adapter, its hot air, its firmware, wrong breakout",
    "A6 W, B3 W, B4 E, C3 E, F8 W, L8 W",
    parts={
        "board": X4_SLOT,
        "card": (
            Controller,
            {
                **HBA, "generation": 1, "link_gbit_s": 3, "has_32_bit_addresses": True,
                "pass_through": "after new firmware", "needs_airflow": True,
                "blocks_deep_idle": "yes",
            },
        ),
        "hdd-b": {"has_bounded_recovery": "unknown"},
        "rev": (Cable, REVERSE),
    },
    slots=(("controller-1", "card", "P1"),),
    wires=on("controller-1", connector=1, cable="rev", piece="piece"),
    spares=("rev",),
)  # fmt: skip
case(
    "small things forgotten: plate, lead, spare cable",
    "C14 I, F6 E, N1 E",
    parts={"supply": {"form": "sfx"}},
    counts={"lead": 0},
    spares=(),
)

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

"""Machines with faults of mechanics, cables, power to the drives, slots and lanes."""

from optibox.catalog.attachment import (
    Cable,
    Controller,
    DisplayCard,
    NetworkCard,
    Riser,
)
from optibox.catalog.platform import Cooler, PowerLead, Processor
from optibox.catalog.storage import BootMedium, DriveAdapter, SolidStateDrive
from tests.unit.rules.bench import DRIVES
from tests.unit.rules.cases import (
    BOTH_PLUGS,
    CASES,
    FORWARD,
    NVME,
    ON_REVERSE,
    REVERSE,
    TRAYS_8087,
    X4_SLOT,
    Case,
    case,
    more_drives,
    on,
)

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
        "supply": {**BOTH_PLUGS, "rail_12v_a": 25, "lead_awg": 14},
        "rev": (Cable, REVERSE),
    },
    drives=more_drives(2),
    wires={
        name: {"cable": "piece", "cable_key": "rev"}
        for name in ("data-1", "data-2", "parity-1", "data-3", "data-4")
    },
    spares=("cable", "rev"),
    sections={"overrides": {"peripheral_plug_a": 20, "power_lead_a": 20}},
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
    "C8 E, C8 I",
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
    "three drives of 2 A on one SATA plug",
    "C9 E, P7 W",
    parts={
        "supply": {"leads": "sata 1"},
        "tap": (PowerLead, {"takes_plug": "sata", "fan_out": 4, "is_moulded": "no"}),
    },
)
case(
    "drives at the end of long thin leads",
    "P7 E",
    parts={"supply": {"lead_awg": 22, "lead_m": 3, "leads": "sata 3"}},
    sections={"overrides": {"power_lead_a": 20}},
)
case(
    "drives at the end of long leads",
    "P7 W",
    parts={"supply": {"lead_awg": 20, "lead_m": 1, "leads": "sata 3"}},
    sections={"overrides": {"power_lead_a": 20}},
)
case(
    "five trays on one 4-pin lead",
    "C9 E, P7 W",
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

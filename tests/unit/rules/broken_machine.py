"""Machines with faults of memory, boot, supply, array, network and completeness."""

from optibox.catalog.attachment import Cable, Controller
from optibox.catalog.platform import Cooler, PowerLead, Processor
from optibox.catalog.storage import HardDrive, SolidStateDrive
from tests.unit.rules.bench import DRIVES
from tests.unit.rules.cases import (
    CASES,
    FORWARD,
    HBA,
    HDD,
    REVERSE,
    SATA_SSD,
    X4_SLOT,
    case,
    more_drives,
    on,
)

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
case(
    "5 V too weak",
    "P3 E",
    parts={"supply": {"rail_5v_a": 1.2, "combined_w": 60}},
)
case("3.3 and 5 V together too weak", "P8 E", parts={"supply": {"combined_w": 7}})
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
            "leads": "sata 4 | sata 4 | sata 4", "rail_12v_a": 40, "rated_w": 370, "rail_5v_a": 9,
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
case(
    "every drive is an old one and full: nothing is free to empty the first onto",
    "S1 E",
    parts={
        "old@owned": (HardDrive, HDD),
        "older@owned": (HardDrive, HDD),
    },
    drives=(
        ("data-1", "old@owned", "data"), ("data-2", "older@owned", "data"),
        ("parity-1", "old@owned", "parity"), DRIVES[3],
    ),
    owned={"old@owned": {"age_years": 1}, "older@owned": {"age_years": 1}},
    sections={"owned": [{"id": "old", "count": 2, "held_tb": 2}, {"id": "older"}]},
)  # fmt: skip

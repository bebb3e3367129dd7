"""Both sides of the thresholds of memory, boot, array, network and what is asked."""

from optibox.catalog.attachment import (
    Controller,
    DisplayCard,
)
from optibox.catalog.platform import Memory, Processor
from optibox.catalog.storage import HardDrive, SolidStateDrive
from tests.unit.rules.bench import DRIVES
from tests.unit.rules.cases import (
    HBA,
    HDD,
    SATA_SSD,
    X4_SLOT,
    on,
)
from tests.unit.rules.edges import (
    CARD,
    FORWARD_CARD,
    FOUR_PORTS,
    LARGE,
    ON_FORWARD,
    PLAIN_CARD,
    SOCKETED,
    edge,
    members,
    striped,
)

# --- memory, processor, boot, firmware ---------------------------------------------
edge(
    "as many modules as sockets",
    "M1 E",
    kept={"counts": {"memory": 2}},
    broken={"counts": {"memory": 3}},
    parts={"board": {"memory_slots": 2, "memory_max_gib": 64}},
)
edge(
    "largest module of a board",
    "M1 E",
    kept={"parts": {"board": {"module_max_gib": 8}}},
    broken={"parts": {"board": {"module_max_gib": 7}}},
)
edge(
    "most memory of a board",
    "M1 E",
    kept={"parts": {"board": {"memory_max_gib": 16}}},
    broken={"parts": {"board": {"memory_max_gib": 15}}},
    counts={"memory": 2},
)
edge(
    "most memory of a processor",
    "M1 E",
    kept={"parts": {"processor": {"memory_max_gib": 16}}},
    broken={"parts": {"processor": {"memory_max_gib": 15}}},
    parts=SOCKETED,
    counts={"memory": 2},
)
for cell, kept, broken in (
    ("form", "dimm", "so-dimm"),
    ("is_registered", False, True),
    ("memory_type", "ddr4", "ddr3l"),
):
    edge(
        f"{cell} of a module",
        "M1 E",
        kept={"parts": {"memory": {cell: kept}}},
        broken={"parts": {"memory": {cell: broken}}},
    )
ECC = {"board": {"has_ecc": True, "socket": "s1"}, "memory": {"has_ecc": True}}
for name, change in (
    ("board", {"board": {"has_ecc": False}}),
    ("processor", {"processor": {"has_ecc": False}}),
    ("modules", {"memory": {"has_ecc": False}}),
):
    edge(
        f"error correction without the {name}",
        "M2 E",
        kept={"parts": {}},
        broken={"parts": change},
        parts={
            **SOCKETED,
            "processor": (Processor, {"has_ecc": True}),
            "board": ECC["board"],
            "memory": ECC["memory"],
        },
        needs={"ecc": True},
    )
edge(
    "error correction with one plain module among others",
    "M2 E",
    kept={"parts": {"other": (Memory, {"has_ecc": True})}},
    broken={"parts": {"other": (Memory, {"has_ecc": False})}},
    parts={
        **SOCKETED,
        "processor": (Processor, {"has_ecc": True}),
        "board": {**ECC["board"], "memory_slots": 2},
        "memory": ECC["memory"],
    },
    needs={"ecc": True},
)
edge(
    "check bits on a machine that reads them",
    "M2 W",
    kept={"parts": {"processor": {"has_ecc": True}}},
    broken={"parts": {"processor": {"has_ecc": False}}},
    parts={
        **SOCKETED,
        "board": ECC["board"],
        "memory": ECC["memory"],
    },
)
edge(
    "heat that a board allows",
    "M3 E",
    kept={"parts": {"board": {"processor_tdp_max_w": 35}}},
    broken={"parts": {"board": {"processor_tdp_max_w": 34}}},
    parts=SOCKETED,
)
edge(
    "heat that a cooler removes",
    "M3 E",
    kept={"parts": {"cooler": {"tdp_w": 35}}},
    broken={"parts": {"cooler": {"tdp_w": 34}}},
    parts=SOCKETED,
)
edge(
    "socket of a cooler",
    "M3 E",
    kept={"parts": {"cooler": {"sockets": "s0 | s1"}}},
    broken={"parts": {"cooler": {"sockets": "s0"}}},
    parts=SOCKETED,
)
edge(
    # 0.1 to 0.2 GB/s a core without instructions, 0.8 to 2 with: judgement
    "encryption of half a gigabyte a second",
    "M4 W",
    kept={"parts": {"board": {"encryption_gb_s_per_core": 0.5}}},
    broken={"parts": {"board": {"encryption_gb_s_per_core": 0.49}}},
    needs={"encryption": True},
)
edge(
    "encryption that nobody asks for",
    "M4 W",
    kept={"needs": {"encryption": False}},
    broken={"needs": {"encryption": True}},
    parts={"board": {"encryption_gb_s_per_core": 0.1}},
)
edge(
    "one boot device",
    "B1 E",
    kept={"drives": DRIVES},
    broken={"drives": (*DRIVES, ("boot-2", "boot", "boot"))},
    parts={"board": {"usb_headers": 2}},
)
edge(
    "a place for the stick",
    "B1 E",
    kept={"parts": {"board": {"usb_headers": 1}}},
    broken={"parts": {"board": {"usb_headers": 0}}},
)
edge(
    "what boots from a port needs no place for a stick",
    "B1 E",
    kept={"parts": {"boot": {"interface": "sata"}}},
    broken={"parts": {"boot": {"interface": "usb"}}},
    parts={"board": {"usb_headers": 0}},
)
for finding, value in (
    ("B3 E", "no"),
    ("B3 W", "after new firmware"),
    ("B3 W", "unknown"),
):
    edge(
        f"pass-through: {value}",
        finding,
        kept={"parts": {"card": {"pass_through": "yes"}}},
        broken={"parts": {"card": {"pass_through": value}}},
        parts=PLAIN_CARD,
        **CARD,
    )
edge(
    # 2^32 sectors of 512 bytes are 2.199 TB
    "drives that 32 bits address",
    "B4 E",
    kept={"parts": {"hdd-a": {"tb": 2.2}, "hdd-b": {"tb": 2.2}}},
    broken={"parts": {"hdd-a": {"tb": 2.25}, "hdd-b": {"tb": 2.2}}},
    parts={**FORWARD_CARD, "card": (Controller, {**HBA, "has_32_bit_addresses": True})},
    wires=ON_FORWARD,
    **CARD,
)
edge(
    "a large drive on a controller with long addresses",
    "B4 E",
    kept={"parts": {"card": {"has_32_bit_addresses": False}}},
    broken={"parts": {"card": {"has_32_bit_addresses": True}}},
    parts=FORWARD_CARD,
    wires=ON_FORWARD,
    **CARD,
)
for finding, value in (("B5 E", "no"), ("B5 W", "unknown")):
    edge(
        f"a controller that lets drives sleep: {value}; a card without drives",
        finding,
        kept={"wires": {}},
        broken={"wires": on("controller-1")},
        parts={
            "board": X4_SLOT,
            "card": (Controller, {**FOUR_PORTS, "passes_standby": value}),
        },
        **CARD,
    )
    edge(
        f"a controller that lets drives sleep: {value}; drives that never do",
        finding,
        kept={"operation": {"timeout_min": None}},
        broken={"operation": {"timeout_min": 30}},
        parts={
            "board": X4_SLOT,
            "card": (Controller, {**FOUR_PORTS, "passes_standby": value}),
        },
        wires=on("controller-1"),
        **CARD,
    )

# --- array and cache ---------------------------------------------------------------
edge(
    "parity drives of an independent layout",
    "A0 E",
    kept={"operation": {"n_parity": 1}},
    broken={"operation": {"n_parity": 2}},
)
for n_parity, least in ((1, 3), (2, 4)):
    edge(
        f"members of a stripe with {n_parity} parity",
        "A0 E",
        kept={"drives": members(least)},
        broken={"drives": members(least - 1)},
        operation=striped(n_parity),
    )
for layout, least in (("pairs", 2), ("striped pairs", 4)):
    operation = {"layout": layout, "n_parity": 0, "write_mode": "plain"}
    edge(
        f"drives of {layout}",
        "A0 E",
        kept={"drives": members(least)},
        broken={"drives": members(least + 1)},
        operation=operation,
    )
    edge(
        f"fewest drives of {layout}",
        "A0 E",
        kept={"drives": members(least)},
        broken={"drives": members(least - 2)},
        operation=operation,
    )
for kind, n in (("none", 0), ("single", 1), ("mirror", 2)):
    caches = tuple((f"cache-{i}", "cache", "cache") for i in (1, 2, 3))
    edge(
        f"cache drives of a cache of kind {kind}",
        "A0 E",
        kept={"drives": (*DRIVES, *caches[:n])},
        broken={"drives": (*DRIVES, *caches[: n + 1])},
        parts={"cache": (SolidStateDrive, SATA_SSD), "case": {"bays_25": 4}},
        wires={f"cache-{i}": {"bay": f"2.5-{i}"} for i in (1, 2, 3)},
        operation={"cache": kind},
        needs={"cache_mirror": False},
    )
edge(
    "only hard drives form the array",
    "A0 E",
    kept={"drives": DRIVES},
    broken={"drives": (DRIVES[0], ("data-2", "ssd", "data"), *DRIVES[2:])},
    parts={"ssd": (SolidStateDrive, SATA_SSD)},
)
edge(
    # sectors of 512 bytes: 4000 GB are 7 814 037 168 of them (IDEMA LBA1-03, from memory)
    "parity one sector smaller than data",
    "A1 E",
    kept={"parts": {"hdd-a": {"sectors": 7_814_037_168}}},
    broken={"parts": {"hdd-a": {"sectors": 7_814_037_167}}},
    parts={"hdd-b": {"sectors": 7_814_037_168}, "hdd-a": {}},
    drives=(("data-1", "hdd-b", "data"), *DRIVES[1:]),
)
edge(
    "a twentieth of a terabyte unused",
    "A2 I",
    kept={"parts": {"hdd-b": {"tb": 4.04}}},
    broken={"parts": {"hdd-b": {"tb": 4.06}}},
    drives=(*DRIVES[:2], ("data-3", "hdd-a", "data"), DRIVES[3]),
    operation=striped(1),
)
edge(
    "sector sizes of drives that nothing binds together",
    "A3 E",
    kept={
        "drives": (*DRIVES[:2], DRIVES[3]),
        "operation": {"n_parity": 0, "write_mode": "plain"},
    },
    broken={"drives": DRIVES},
    parts={"hdd-b": {"sector_logical_b": 4096}},
)
edge(
    "sector sizes in a stripe without parity drives of its own",
    "A3 E",
    kept={"parts": {"hdd-b": {"sector_logical_b": 512}}},
    broken={"parts": {"hdd-b": {"sector_logical_b": 4096}}},
    drives=members(3),
    operation=striped(1),
)
edge(
    "sector sizes in a stripe without any parity",
    "A3 E",
    kept={"parts": {"hdd-b": {"sector_logical_b": 512}}},
    broken={"parts": {"hdd-b": {"sector_logical_b": 4096}}},
    drives=members(3),
    operation=striped(0),
)
edge(
    "sector sizes in pairs",
    "A3 E",
    kept={"parts": {"hdd-b": {"sector_logical_b": 512}}},
    broken={"parts": {"hdd-b": {"sector_logical_b": 4096}}},
    drives=members(2),
    operation={"layout": "pairs", "n_parity": 0, "write_mode": "plain"},
)
for recording, stripe in (("shingled", "A4 E"), ("unknown", "A4 W")):
    edge(
        f"{recording} recording in a stripe",
        stripe,
        kept={"parts": {"hdd-b": {"recording": "conventional"}}},
        broken={"parts": {"hdd-b": {"recording": recording}}},
        drives=members(3),
        operation=striped(1),
    )
    edge(
        f"{recording} recording as parity, not as data",
        "A4 E",
        kept={"drives": (DRIVES[1], ("parity-1", "hdd-a", "parity"), DRIVES[3])},
        broken={"drives": (DRIVES[0], ("parity-1", "hdd-b", "parity"), DRIVES[3])},
        parts={"hdd-b": {"recording": recording}},
    )
edge(
    "one cache drive where no mirror is asked for",
    "A7 E",
    kept={"needs": {"cache_mirror": False}},
    broken={"needs": {"cache_mirror": True}},
    parts={"cache": (SolidStateDrive, SATA_SSD)},
    drives=(*DRIVES, ("cache-1", "cache", "cache")),
    wires={"cache-1": {"bay": "2.5-1"}},
    operation={"cache": "single"},
)
MIRROR = {
    "drives": (*DRIVES, ("cache-1", "cache", "cache"), ("cache-2", "cache", "cache")),
    "wires": {"cache-1": {"bay": "2.5-1"}, "cache-2": {"bay": "2.5-2"}},
    "operation": {"cache": "mirror"},
}
edge(
    "a mirrored cache that finishes its writes",
    "A7 W",
    kept={"parts": {"cache": {"has_power_loss_protection": True}}},
    broken={"parts": {"cache": {"has_power_loss_protection": False}}},
    parts={"cache": (SolidStateDrive, {})},
    **MIRROR,
)
# five years, 40 000 hours, one reallocated sector: common practice, no source
for history, kept, broken in (
    ("age_years", 5.0, 5.1),
    ("hours", 40_000, 40_001),
    ("reallocated_sectors", 0, 1),
):
    edge(
        f"{history} of a parity drive",
        "A8 W",
        kept={"owned": {"hdd-a": {history: kept, "batch": "x"}}},
        broken={"owned": {"hdd-a": {history: broken, "batch": "x"}}},
        drives=(DRIVES[1], DRIVES[2], DRIVES[3]),
    )
    edge(
        f"{history} of a data drive",
        "A8 W",
        kept={"owned": {"hdd-b": {history: broken}}},
        broken={"owned": {"hdd-a": {history: broken}}},
    )
edge(
    "pending sectors of any drive",
    "A8 E",
    kept={"owned": {"hdd-b": {"pending_sectors": 0, "batch": "x"}}},
    broken={"owned": {"hdd-b": {"pending_sectors": 1, "batch": "x"}}},
)
# drives behind parity: judgement, 8 and 16 independent, 6 and 10 in a stripe
for n_parity, most in ((1, 8), (2, 16)):
    fixed = tuple((f"parity-{i}", "hdd-a", "parity") for i in range(1, n_parity + 1))
    edge(
        f"{most} independent drives behind {n_parity} parity",
        "A9 W",
        kept={"drives": (*members(most), *fixed)},
        broken={"drives": (*members(most + 1), *fixed)},
        parts=LARGE,
        operation={"n_parity": n_parity},
    )
for n_parity, most in ((1, 6), (2, 10)):
    edge(
        f"{most} drives' worth of data in a stripe with {n_parity} parity",
        "A9 W",
        kept={"drives": members(most + n_parity)},
        broken={"drives": members(most + n_parity + 1)},
        parts=LARGE,
        operation=striped(n_parity),
    )
edge(
    "two models are no twins",
    "A5 W",
    kept={"drives": (DRIVES[1], DRIVES[2], DRIVES[3])},
    broken={"drives": (DRIVES[0], DRIVES[2], DRIVES[3])},
)
LOT = {"age_years": 1, "hours": 100, "batch": "a"}
for history, other in (("batch", "b"), ("age_years", 2), ("hours", 200)):
    edge(
        f"owned drives of another {history} are no twins",
        "A5 W",
        kept={"owned": {"hdd-a@owned": {**LOT, history: other}}},
        broken={"owned": {"hdd-a@owned": LOT}},
        parts={"hdd-a@owned": (HardDrive, HDD)},
        drives=(DRIVES[0], ("parity-1", "hdd-a@owned", "parity"), DRIVES[3]),
        owned={"hdd-a": LOT},
    )
edge(
    "a bought drive is no twin of an owned one",
    "A5 W",
    kept={"owned": {"hdd-a@owned": {"age_years": 1}}},
    broken={"owned": {}},
    parts={"hdd-a@owned": (HardDrive, HDD)},
    drives=(DRIVES[0], ("parity-1", "hdd-a@owned", "parity"), DRIVES[3]),
)
edge(
    "drives alike that nothing is rebuilt from",
    "A5 W",
    kept={
        "operation": {"n_parity": 0, "write_mode": "plain"},
        "drives": (DRIVES[0], ("data-2", "hdd-a", "data"), DRIVES[3]),
    },
    broken={"drives": (DRIVES[0], DRIVES[2], DRIVES[3])},
)
edge(
    "drives that give up in time",
    "A6 W",
    kept={"parts": {"hdd-b": {"has_bounded_recovery": "yes"}}},
    broken={"parts": {"hdd-b": {"has_bounded_recovery": "unknown"}}},
    parts=FORWARD_CARD,
    wires=ON_FORWARD,
    **CARD,
)
edge(
    "a host that waits",
    "A6 W",
    kept={"parts": {"card": {"speaks_sas": False}}},
    broken={"parts": {"card": {"speaks_sas": True}}},
    parts={**FORWARD_CARD, "hdd-b": {"has_bounded_recovery": "no"}},
    wires=ON_FORWARD,
    **CARD,
)
edge(
    "parity as fast as the slowest data drive",
    "A10 W",
    kept={"parts": {"hdd-a": {"outer_rate_mb_s": 179.9}}},
    broken={"parts": {"hdd-a": {"outer_rate_mb_s": 179.7}}},
    drives=(DRIVES[1], DRIVES[2], DRIVES[3]),
)

# --- network -----------------------------------------------------------------------
TEN = {"board": {"network_gbit_s": 10}}
for kind, metres in (("cat6", 55), ("cat6a", 100)):
    # IEEE 802.3an, quoted from memory
    edge(
        f"10 Gb/s over {metres} m of {kind}",
        "N2 W",
        kept={"parts": {"lead": {"type": kind, "length_m": metres}}},
        broken={"parts": {"lead": {"type": kind, "length_m": metres + 1}}},
        parts=TEN,
        needs={"other_end_gbit_s": 10},
    )
edge(
    "less than 10 Gb/s over category 5e",
    "N2 W",
    kept={"needs": {"other_end_gbit_s": 5}},
    broken={"needs": {"other_end_gbit_s": 10}},
    parts={**TEN, "lead": {"type": "cat5e"}},
)
edge(
    "a slower port at this end of category 5e",
    "N2 W",
    kept={"parts": {"board": {"network_gbit_s": 5}}},
    broken={"parts": {"board": {"network_gbit_s": 10}}},
    parts={"lead": {"type": "cat5e"}},
    needs={"other_end_gbit_s": 10},
)
for end in ("mtu_b", "other_end_mtu_b"):
    # 1500 bytes: IEEE 802.3
    edge(
        f"frames of the usual size, {end} alone",
        "N3 W",
        kept={"around": {end: 1500}},
        broken={"around": {end: 1501}},
    )
edge(
    "frames of one size",
    "N3 W",
    kept={"around": {"mtu_b": 1400, "other_end_mtu_b": 1400}},
    broken={"around": {"mtu_b": 1400, "other_end_mtu_b": 1399}},
)
edge(
    "a port as fast as asked",
    "N1 E",
    kept={"needs": {"network_gbit_s": 1}},
    broken={"needs": {"network_gbit_s": 1.01}},
)

# --- what is asked, completeness ---------------------------------------------------
for layout, needed in (({"n_parity": 0, "write_mode": "plain"}, 0), ({}, 1)):
    drives = DRIVES if needed else (*DRIVES[:2], DRIVES[3])
    edge(
        f"an array that survives {needed}",
        "D1 E",
        kept={"needs": {"failures_survived": needed}},
        broken={"needs": {"failures_survived": needed + 1}},
        drives=drives,
        operation=layout,
    )
for shape, units, fits, breaks in (
    ("rack", 2, {"rack_units": 2}, {"rack_units": 1}),
    ("tower", 0, {}, {"rack_units": 4}),
    ("tower", 0, {"shape": "tower"}, {"shape": "cube"}),
):
    edge(
        f"a {shape} of {units} U, limits {breaks}",
        "D3 E",
        kept={"sections": {"limits": fits}},
        broken={"sections": {"limits": breaks}},
        parts={"case": {"shape": shape, "rack_units": units}},
    )
edge(
    "array drives at most",
    "D2 E",
    kept={"sections": {"limits": {"array_drives": 3}}},
    broken={"sections": {"limits": {"array_drives": 2}}},
)
edge(
    "memory at least",
    "D4 E",
    kept={"needs": {"memory_gib": 8}},
    broken={"needs": {"memory_gib": 8.1}},
)
for name, kept in (
    ("board", {"parts": {"board": {**X4_SLOT, "has_management": True}}}),
    ("card", {"parts": {"card": (DisplayCard, {"is_management": True})}}),
):
    edge(
        f"management by a {name}",
        "D4 E",
        kept=kept,
        broken={"parts": {"card": (DisplayCard, {"is_management": False})}},
        parts={"board": X4_SLOT, "card": (DisplayCard, {})},
        slots=(("display-1", "card", "P1"),),
        needs={"management": True},
    )
edge(
    "a part that is insisted on",
    "D4 E",
    kept={"sections": {"insist": ["hdd-b"]}},
    broken={"sections": {"insist": ["hdd-c"]}},
)
for key in ("case", "board", "supply", "memory"):
    edge(
        f"a machine without its {key}",
        "K1 E",
        kept={"counts": {}},
        broken={"counts": {key: 0}},
    )
    if key != "memory":
        edge(
            f"a machine with two of its {key}",
            "K1 E",
            kept={"counts": {key: 1}},
            broken={"counts": {key: 2}},
        )
for key in ("processor", "cooler"):
    edge(
        f"a socketed board without its {key}",
        "K1 E",
        kept={"counts": {key: 1}},
        broken={"counts": {key: 0}},
        parts=SOCKETED,
    )
    edge(
        f"a soldered board with a {key}",
        "K1 E",
        kept={"parts": {"board": {"socket": "s1"}}},
        broken={"parts": {"board": {"socket": "soldered"}}},
        parts={**SOCKETED, "board": {}},
    )
edge(
    "a drive on the list for each place",
    "K2 E",
    kept={"counts": {"hdd-a": 2}},
    broken={"counts": {"hdd-a": 3}},
)
edge(
    "a card on the list for each place",
    "K2 E",
    kept={"counts": {"card": 1}},
    broken={"counts": {"card": 2}},
    parts={"board": X4_SLOT, "card": (Controller, {})},
    **CARD,
)
edge(
    "a boot medium on the list for each place",
    "K2 E",
    kept={"counts": {"boot": 1}},
    broken={"counts": {"boot": 2}},
)
edge(
    "a drive that is none",
    "K2 E",
    kept={"drives": DRIVES},
    broken={"drives": (*DRIVES, ("data-9", "memory", "data"))},
)

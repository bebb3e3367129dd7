"""Both sides of the thresholds of mechanics, ports, cables, slots and lanes."""

from optibox.catalog.attachment import (
    Cable,
    Controller,
    DisplayCard,
    NetworkCard,
    Riser,
)
from optibox.catalog.platform import MountingPlate
from optibox.catalog.storage import DriveAdapter, SolidStateDrive
from tests.unit.rules.bench import DRIVES
from tests.unit.rules.cases import (
    BOTH_PLUGS,
    FORWARD,
    HBA,
    NVME,
    ON_REVERSE,
    REVERSE,
    SATA_SSD,
    STRAIGHT,
    TRAYS_8087,
    X4_SLOT,
    more_drives,
    on,
)
from tests.unit.rules.edges import (
    CARD,
    FORWARD_CARD,
    FOUR_PORTS,
    LARGE,
    MODULE,
    ON_FORWARD,
    ON_RISER,
    PLAIN_CARD,
    SINGLE,
    SMALL,
    SOCKET,
    SOCKETED,
    TWO_ON_RISER,
    edge,
)

# --- mechanics and air -------------------------------------------------------------
for size, part, last in (("3.5", {}, 8), ("2.5", SMALL, 2)):
    edge(
        f"last bay of {size} inch",
        "F2 E",
        kept={"wires": {"data-2": {"bay": f"{size}-{last}"}}},
        broken={"wires": {"data-2": {"bay": f"{size}-{last + 1}"}}},
        parts={"hdd-b": part},
    )
    edge(
        f"first bay of {size} inch",
        "F2 E",
        kept={"wires": {"data-2": {"bay": f"{size}-1"}}},
        broken={"wires": {"data-2": {"bay": f"{size}-0"}}},
        parts={"hdd-b": part},
        drives=(DRIVES[1], DRIVES[3]),
        operation={"n_parity": 0, "write_mode": "plain"},
    )
edge(
    "a bay of a size that chassis do not have",
    "F2 E",
    kept={"wires": {"data-2": {"bay": "2.5-1"}}},
    broken={"wires": {"data-2": {"bay": "5.25-1"}}},
    parts={"hdd-b": SMALL},
)
edge(
    "a drive without a bay",
    "F2 E",
    kept={},
    broken={"wires": {"data-2": {"bay": ""}}},
)
edge(
    "two small drives in a bay",
    "F2 E",
    kept={"wires": {"data-1": {"bay": "2.5-1"}, "parity-1": {"bay": "2.5-2"}}},
    broken={"wires": {"data-1": {"bay": "2.5-1"}, "parity-1": {"bay": "2.5-1"}}},
    parts={"hdd-a": SMALL},
)
edge(
    "height of a small bay",
    "F2 E",
    kept={"parts": {"hdd-b": {"height_mm": 9.5}}},
    broken={"parts": {"hdd-b": {"height_mm": 9.6}}},
    parts={"case": {"bay_25_height_mm": 9.5}, "hdd-b": SMALL},
    wires={"data-2": {"bay": "2.5-1"}},
)
edge(
    "height of a solid-state drive in a small bay",
    "F2 E",
    kept={"parts": {"ssd": {"height_mm": 7}}},
    broken={"parts": {"ssd": {"height_mm": 9.5}}},
    parts={"case": {"bay_25_height_mm": 7}, "ssd": (SolidStateDrive, SATA_SSD)},
    drives=(*DRIVES, ("cache-1", "ssd", "cache")),
    wires={"cache-1": {"bay": "2.5-1"}},
    **SINGLE,
)
edge(
    "height of a drive in its frame",
    "F2 E",
    kept={"parts": {"frame": (DriveAdapter, {"max_height_mm": 9.5})}},
    broken={"parts": {"frame": (DriveAdapter, {"max_height_mm": 9.4})}},
    parts={"hdd-b": SMALL},
    wires={"data-2": {"bay": "3.5-2", "adapter_key": "frame"}},
)
edge(
    "a frame that is something else",
    "F2 E",
    kept={"wires": {"data-2": {"bay": "3.5-2", "adapter_key": "frame"}}},
    broken={"wires": {"data-2": {"bay": "3.5-2", "adapter_key": "memory"}}},
    parts={"hdd-b": SMALL, "frame": (DriveAdapter, {})},
)
edge(
    "as many frames as small drives in large bays",
    "F2a E",
    kept={"counts": {"frame": 2}},
    broken={"counts": {"frame": 1}},
    parts={"hdd-a": SMALL, "frame": (DriveAdapter, {})},
    wires={
        "data-1": {"bay": "3.5-1", "adapter_key": "frame"},
        "parity-1": {"bay": "3.5-3", "adapter_key": "frame"},
    },
)
for holes, finding in (("no middle side", "F3 E"), ("unknown", "F3 W")):
    edge(
        f"trays with their screws in the middle, drives with holes {holes}",
        finding,
        kept={"parts": {"case": {"tray_holes": "all"}}},
        broken={"parts": {"case": {"tray_holes": "middle side only"}}},
        parts={"hdd-a": {"side_holes": holes}},
    )
edge(
    "such trays and drives with all holes",
    "F3 E",
    kept={"parts": {"hdd-a": {"side_holes": "all"}}},
    broken={"parts": {"hdd-a": {"side_holes": "no middle side"}}},
    parts={"case": {"tray_holes": "middle side only"}},
)
FRAMED = {
    "parts": {
        "case": {
            "backplane_connector": "sata",
            "backplane_bays": 2,
            "backplane_power": "peripheral 1",
            "tray_holes": "all",
        },
        "supply": BOTH_PLUGS,
        "hdd-b": SMALL,
        "frame": (DriveAdapter, {}),
    },
}
edge(
    "a frame in a tray",
    "F3 E",
    kept={"parts": {"frame": {"fits_tray": True}}},
    broken={"parts": {"frame": {"fits_tray": False}}},
    wires={"data-2": {"bay": "3.5-2", "adapter_key": "frame"}},
    **FRAMED,
)
edge(
    "such a frame in a bay beside the backplane",
    "F3 E",
    kept={"wires": {"data-2": {"bay": "3.5-3", "adapter_key": "frame"}}},
    broken={"wires": {"data-2": {"bay": "3.5-2", "adapter_key": "frame"}}},
    **FRAMED,
)
edge(
    "such a frame in a bay without a tray",
    "F3 E",
    kept={"parts": {"case": {"tray_holes": "none"}}},
    broken={"parts": {"case": {"tray_holes": "all"}}},
    wires={"data-2": {"bay": "3.5-2", "adapter_key": "frame"}},
    **FRAMED,
)
edge(
    "height of a cooler",
    "F4 E",
    kept={"parts": {"cooler": {"height_mm": 60}}},
    broken={"parts": {"cooler": {"height_mm": 60.5}}},
    parts={**SOCKETED, "case": {"cooler_clearance_mm": 60}},
)
edge(
    "length of a card",
    "F5 E",
    kept={"parts": {"card": {"length_mm": 168}}},
    broken={"parts": {"card": {"length_mm": 168.5}}},
    parts={
        "case": {"card_clearance_mm": 168},
        "board": X4_SLOT,
        "card": (Controller, {}),
    },
    **CARD,
)
for chassis, card, fits in (
    ("low", "both", True),
    ("low", "low", True),
    ("full", "full", True),
    ("none", "both", False),
):
    other = {"bracket": "full"} if chassis == "low" else {"bracket": "both"}
    same = {"case": {"bracket": chassis}, "card": {"bracket": card}}
    edge(
        f"bracket {card} behind a rear wall for {chassis}",
        "F5 E",
        kept={"parts": same if fits else {"case": {"bracket": "full"}, "card": other}},
        broken={
            "parts": {"case": {"bracket": "low"}, "card": {"bracket": "full"}}
            if fits
            else same
        },
        parts={"case": {}, "board": X4_SLOT, "card": (Controller, {})},
        **CARD,
    )
edge(
    "a module needs neither bracket nor length",
    "F5 E",
    kept={"parts": {"card": {"bus": "m2", "module_length_mm": 80}}},
    broken={"parts": {"card": {"bus": "pcie"}}},
    parts={
        "case": {"bracket": "none"},
        "board": {"slots": "P1 m2 keyM 2280 x4 gen3 cpu nvme"},
        "card": (Controller, {}),
    },
    **CARD,
)
edge(
    "a plate for another opening",
    "F6 E",
    kept={"parts": {"plate": (MountingPlate, {})}},
    broken={"parts": {"plate": (MountingPlate, {"opening_form": "tfx"})}},
    parts={"supply": {"form": "sfx"}},
)
edge(
    "a brick needs no opening",
    "F6 E",
    kept={"parts": {"supply": {"form": "brick"}}},
    broken={"parts": {"supply": {"form": "flex"}}},
)
# one fan for four to five drives: common practice, no source
for drives, fans in ((3, 0), (5, 1), (10, 2)):
    n_data = drives - 1
    edge(
        f"{drives} drives with {fans} fans",
        "F7 W",
        kept={"drives": more_drives(n_data - 2)},
        broken={"drives": more_drives(n_data - 1)},
        parts={**LARGE, "case": {"bays_35": 24, "n_fans": fans}},
    )
edge(
    "small drives need no fan",
    "F7 W",
    kept={"parts": {"hdd-b": {"form": "2.5", "height_mm": 9.5}}},
    broken={"parts": {"hdd-b": {"form": "3.5"}}},
    parts={"case": {"n_fans": 0}, "frame": (DriveAdapter, {}), "hdd-b": {}},
    drives=more_drives(1),
    wires={
        name: {"bay": f"3.5-{n}", "adapter_key": "frame"}
        for name, n in (("data-2", 2), ("data-3", 5))
    },
)
edge(
    "a rack moves air with two fans",
    "F8 W",
    kept={"parts": {"case": {"shape": "rack", "n_fans": 2}}},
    broken={"parts": {"case": {"shape": "rack", "n_fans": 1}}},
    parts={
        "case": {"rack_units": 2},
        "board": X4_SLOT,
        "card": (Controller, {"needs_airflow": True}),
    },
    **CARD,
)
edge(
    "a tower does not, with any number",
    "F8 W",
    kept={"parts": {"card": {"needs_airflow": False}}},
    broken={"parts": {"card": {"needs_airflow": True}}},
    parts={"case": {"n_fans": 4}, "board": X4_SLOT, "card": (Controller, {})},
    **CARD,
)
edge(
    "four plain drives in a cage, a fifth made for it",
    "F9 I",
    kept={"parts": {"hdd-a": {"is_vibration_rated": True}}},
    broken={"parts": {"hdd-a": {"is_vibration_rated": False}}},
    parts={**LARGE, "hdd-b": {"is_vibration_rated": False}, "hdd-a": {}},
    drives=more_drives(2),
)

# --- ports, backplanes, cables -----------------------------------------------------
for finding, kept, broken in (("C1 E", 8, 9), ("C1 E", 1, 0)):
    edge(
        f"onboard port {kept}",
        finding,
        kept={"wires": {"data-2": {"connector": kept}}},
        broken={"wires": {"data-2": {"connector": broken}}},
        drives=(DRIVES[1], DRIVES[3]),
        operation={"n_parity": 0, "write_mode": "plain"},
    )
edge(
    "second place of a plain onboard port",
    "C1 E",
    kept={"wires": {"data-2": {"port": 1}}},
    broken={"wires": {"data-2": {"port": 2}}},
)
edge(
    "ports that a used socket leaves",
    "C1 E",
    kept={"parts": {"board": {"sharing": "M1 -> ports -1"}}},
    broken={"parts": {"board": {"sharing": "M1 -> ports -2"}}},
    parts={"board": {**SOCKET, "sata_ports": 4}, "cache": (SolidStateDrive, NVME)},
    **MODULE,
)
edge(
    "a socket takes ports in SATA mode alone",
    "C1 E",
    kept={"parts": {"board": {"sharing": "M1 sata -> ports -2"}}},
    broken={"parts": {"board": {"sharing": "M1 nvme -> ports -2"}}},
    parts={"board": {**SOCKET, "sata_ports": 4}, "cache": (SolidStateDrive, NVME)},
    **MODULE,
)
for number, beyond in ((4, 5), (1, 0)):
    edge(
        f"connector {number} of a card with four",
        "C1 E",
        kept={"wires": {"data-2": {"host": "controller-1", "connector": number}}},
        broken={"wires": {"data-2": {"host": "controller-1", "connector": beyond}}},
        parts=PLAIN_CARD,
        **CARD,
    )
for number, beyond in ((4, 5), (1, 0)):
    edge(
        f"lane {number} of a connector with four",
        "C1 E",
        kept={
            "wires": {**ON_FORWARD, "data-2": {**ON_FORWARD["data-2"], "port": number}}
        },
        broken={
            "wires": {**ON_FORWARD, "data-2": {**ON_FORWARD["data-2"], "port": beyond}}
        },
        parts=FORWARD_CARD,
        drives=(DRIVES[1], DRIVES[3]),
        operation={"n_parity": 0, "write_mode": "plain"},
        **CARD,
    )
edge(
    "ports of a card that has none",
    "C1 E",
    kept={"parts": {"card": (Controller, FOUR_PORTS)}},
    broken={"parts": {"card": (NetworkCard, {})}},
    parts={"board": X4_SLOT},
    wires={"data-2": {"host": "controller-1", "connector": 1}},
    **CARD,
)
edge(
    "straight cable into trays",
    "C3 E",
    kept={"parts": {"str": (Cable, STRAIGHT)}},
    broken={"parts": {"str": (Cable, REVERSE)}},
    parts={
        "case": TRAYS_8087,
        "supply": BOTH_PLUGS,
        "board": X4_SLOT,
        "card": (Controller, HBA),
    },
    wires=on("controller-1", connector=1, cable="str", piece="piece"),
    **CARD,
)
for end in ("controller_end", "drive_end"):
    edge(
        f"the {end.replace('_', ' ')} of a straight cable",
        "C2 E",
        kept={"parts": {"str": {end: "sff-8087"}}},
        broken={"parts": {"str": {end: "sff-8643"}}},
        parts={
            "case": TRAYS_8087,
            "supply": BOTH_PLUGS,
            "board": X4_SLOT,
            "card": (Controller, HBA),
            "str": (Cable, STRAIGHT),
        },
        wires=on("controller-1", connector=1, cable="str", piece="piece"),
        **CARD,
    )
FIVE = ("data-1", "data-2", "parity-1", "data-3", "data-4")
edge(
    # one connector serves four bays
    "a breakout serves four bays, of one connector of the backplane",
    "C4 E",
    kept={
        "drives": more_drives(1),
        "wires": {n: {"cable": "piece", "cable_key": "rev"} for n in FIVE[:4]}
        | {"data-3": {"cable": "piece", "cable_key": "rev", "bay": "3.5-4"}},
    },
    broken={
        "drives": more_drives(1),
        "wires": {n: {"cable": "piece", "cable_key": "rev"} for n in FIVE[:4]}
        | {"data-3": {"cable": "piece", "cable_key": "rev", "bay": "3.5-5"}},
    },
    parts={"case": TRAYS_8087, "supply": BOTH_PLUGS, "rev": (Cable, REVERSE)},
)
edge(
    "two breakouts on one connector of the backplane",
    "C4 E",
    kept={"wires": {**ON_REVERSE}},
    broken={
        "wires": {**ON_REVERSE, "data-2": {"cable": "other", "cable_key": "rev"}},
        "counts": {"rev": 2},
    },
    parts={"case": TRAYS_8087, "supply": BOTH_PLUGS, "rev": (Cable, REVERSE)},
)
edge(
    "as many cables as are in use",
    "C4 E",
    kept={"counts": {"cable": 3}},
    broken={"counts": {"cable": 2}},
)
edge(
    "a SAS drive on a controller that speaks it",
    "C5 E",
    kept={"parts": {"card": {"speaks_sas": True}}},
    broken={"parts": {"card": {"speaks_sas": False}}},
    parts={
        **FORWARD_CARD,
        "hdd-a": {"interface": "sas"},
        "hdd-b": {"interface": "sas"},
    },
    wires=ON_FORWARD,
    **CARD,
)
edge(
    # 1 m: Serial ATA specification, quoted from memory
    "a cable of a metre",
    "C6 W",
    kept={"parts": {"cable": {"length_m": 1.0}}},
    broken={"parts": {"cable": {"length_m": 1.02}}},
)
edge(
    "SAS goes further",
    "C6 W",
    kept={"parts": {"hdd-a": {"interface": "sas"}, "hdd-b": {"interface": "sas"}}},
    broken={"parts": {"hdd-a": {"interface": "sas"}, "hdd-b": {"interface": "sata"}}},
    parts={**FORWARD_CARD, "fwd": (Cable, {**FORWARD, "length_m": 1.2})},
    wires=ON_FORWARD,
    **CARD,
)
edge(
    "lamps on a reverse breakout",
    "C7 W",
    kept={"parts": {"rev": {"has_sideband": True}}},
    broken={"parts": {"rev": {"has_sideband": False}}},
    parts={"case": TRAYS_8087, "supply": BOTH_PLUGS, "rev": (Cable, REVERSE)},
    wires=ON_REVERSE,
)
edge(
    "lamps do not matter on a forward breakout",
    "C7 W",
    kept={"parts": {"fwd": {"has_sideband": False}}},
    broken={
        "parts": {
            "case": TRAYS_8087,
            "supply": BOTH_PLUGS,
            "fwd": (Cable, {**REVERSE, "has_sideband": False}),
        },
    },
    parts=FORWARD_CARD,
    wires=ON_FORWARD,
    **CARD,
)
edge(
    "a spare of the same ends",
    "C14 I",
    kept={"parts": {"other": (Cable, REVERSE)}},
    broken={"parts": {"other": (Cable, {**REVERSE, "drive_end": "sff-8643"})}},
    parts={"case": TRAYS_8087, "supply": BOTH_PLUGS, "rev": (Cable, REVERSE)},
    wires=ON_REVERSE,
    spares=("other",),
)
MULTIPLIED = {
    "connectors": "5 sata",
    "topology": "multiplier",
    "switching": "fis",
    "has_hot_plug": True,
    "lanes": 4,
}
edge(
    # the last native port of two feeds all ports beyond the first
    "the port before the multiplier's",
    "C11 E",
    kept={"wires": {"data-2": {"host": "controller-1", "connector": 1}}},
    broken={"wires": {"data-2": {"host": "controller-1", "connector": 2}}},
    parts={"board": X4_SLOT, "card": (Controller, {**MULTIPLIED, "native_ports": 2})},
    **CARD,
)
edge(
    "native ports of a card whose topology is known",
    "C12 W",
    kept={"parts": {"card": {"topology": "native"}}},
    broken={"parts": {"card": {"topology": "unknown"}}},
    parts={**PLAIN_CARD},
    **CARD,
)
edge(
    "fewer native ports than ports",
    "C12 W",
    kept={"parts": {"card": {"native_ports": 4}}},
    broken={"parts": {"card": {"native_ports": 3}}},
    parts={**PLAIN_CARD},
    **CARD,
)
for part in ("case", "board"):
    for finding, wish in (("C13 E", True), ("C13 I", False)):
        edge(
            f"hot-plug of the {part}, asked for: {wish}",
            finding,
            kept={"parts": {part: {"has_hot_plug": True}}},
            broken={"parts": {part: {"has_hot_plug": False}}},
            needs={"hot_swap": wish},
        )
for finding, wish in (("C13 E", True), ("C13 I", False)):
    edge(
        f"hot-plug of the controller in use, asked for: {wish}",
        finding,
        kept={"parts": {"card": {"has_hot_plug": True}}},
        broken={"parts": {"card": {"has_hot_plug": False}}},
        parts=PLAIN_CARD,
        wires=on("controller-1"),
        needs={"hot_swap": wish},
        **CARD,
    )

# --- slots, lanes, sockets ---------------------------------------------------------
edge(
    "an x4 edge in a closed slot",
    "L1 E",
    kept={"parts": {"board": {"slots": "P1 x4@1 gen3 cpu"}}},
    broken={"parts": {"board": {"slots": "P1 x2@1 gen3 cpu"}}},
    parts={"card": (NetworkCard, {})},
    slots=(("network-1", "card", "P1"),),
)
edge(
    "an x4 edge in a short slot with an open end",
    "L1 E",
    kept={"parts": {"board": {"slots": "P1 x1 gen3 cpu open"}}},
    broken={"parts": {"board": {"slots": "P1 x1 gen3 cpu"}}},
    parts={"card": (NetworkCard, {})},
    slots=(("network-1", "card", "P1"),),
)
edge(
    "a card does not go into a socket",
    "L1 E",
    kept={"parts": {"board": {"slots": "P1 x4 gen3 cpu"}}},
    broken={"parts": {"board": {"slots": "P1 m2 keyM 2280 x4 gen3 cpu nvme"}}},
    parts={"card": (NetworkCard, {})},
    slots=(("network-1", "card", "P1"),),
)
for name, kept, broken in (
    ("length", {"module_length_mm": 80}, {"module_length_mm": 110}),
    ("blank length, taken as 80", {"module_length_mm": 0}, {"module_length_mm": 110}),
    ("mode", {"interface": "nvme"}, {"interface": "sata"}),
):
    edge(
        f"{name} of a module",
        "L3 E",
        kept={"parts": {"cache": kept}},
        broken={"parts": {"cache": broken}},
        parts={"board": SOCKET, "cache": (SolidStateDrive, NVME)},
        **MODULE,
    )
for keys, socket, other in (("M", "keyM", "keyB"), ("", "keyM", "keyB")):
    edge(
        f"notches '{keys}' of a module",
        "L3 E",
        kept={"parts": {"board": {"slots": f"M1 m2 {socket} 2280 x2 gen3 cpu nvme"}}},
        broken={"parts": {"board": {"slots": f"M1 m2 {other} 2280 x2 gen3 cpu nvme"}}},
        parts={"board": {}, "cache": (SolidStateDrive, {**NVME, "module_key": keys})},
        **MODULE,
    )
edge(
    "both notches suit a socket with key B",
    "L3 E",
    kept={"parts": {"cache": {"module_key": "BM"}}},
    broken={"parts": {"cache": {"module_key": "M"}}},
    parts={
        "board": {"slots": "M1 m2 keyB 2280 x2 gen3 cpu nvme"},
        "cache": (SolidStateDrive, NVME),
    },
    **MODULE,
)
edge(
    "a module that sits nowhere",
    "L3 E",
    kept={"slots": (("cache-1", "cache", "M1"),)},
    broken={"slots": ()},
    parts={"board": SOCKET, "cache": (SolidStateDrive, NVME)},
    drives=MODULE["drives"],
    **SINGLE,
)
edge(
    # a controller on an M.2 module speaks PCIe: a socket for SATA alone does not see it
    "a controller on a module",
    "L3 E",
    kept={"parts": {"board": {"slots": "P1 m2 keyM 2280 x4 gen3 cpu nvme"}}},
    broken={"parts": {"board": {"slots": "P1 m2 keyM 2280 x4 gen3 cpu sata"}}},
    parts={"card": (Controller, {"bus": "m2", "module_length_mm": 80})},
    **CARD,
)
edge(
    "a boot module speaks SATA unless said",
    "L3 E",
    kept={"parts": {"board": {"slots": "M1 m2 keyM 2280 x2 gen3 cpu sata"}}},
    broken={"parts": {"board": {"slots": "M1 m2 keyM 2280 x2 gen3 cpu nvme"}}},
    parts={"boot": {"interface": "m2", "module_length_mm": 80}},
    slots=(("boot-1", "boot", "M1"),),
)
RISER = {
    "board": {"slots": "P1 x4 gen3 cpu"},
    "riser": (Riser, {}),
    "cache": (SolidStateDrive, NVME),
}
edge(
    "length of a module on a riser",
    "L3 E",
    kept={"parts": {"riser": {"socket_length_mm": 80}}},
    broken={"parts": {"riser": {"socket_length_mm": 60}}},
    parts=RISER,
    **ON_RISER,
)
edge(
    "a SATA module on a riser",
    "L3 E",
    kept={"parts": {"cache": {"interface": "nvme"}}},
    broken={"parts": {"cache": {"interface": "sata"}}},
    parts=RISER,
    **ON_RISER,
)
for number, beyond in ((2, 3), (1, 0)):
    edge(
        f"socket {number} of a riser with two",
        "L3 E",
        kept={
            "slots": (
                ("riser-1", "riser", "P1"),
                ("cache-1", "cache", f"riser-1.{number}"),
            )
        },
        broken={
            "slots": (
                ("riser-1", "riser", "P1"),
                ("cache-1", "cache", f"riser-1.{beyond}"),
            )
        },
        parts={**RISER, "riser": (Riser, {"n_sockets": 2})},
        drives=ON_RISER["drives"],
        **SINGLE,
    )
edge(
    "a module on a card that is no riser",
    "L1 E",
    kept={"parts": {"riser": (Riser, {})}},
    broken={"parts": {"riser": (NetworkCard, {})}},
    parts={"board": RISER["board"], "cache": RISER["cache"]},
    **ON_RISER,
)
edge(
    "a neighbour that leaves two lanes",
    "L4 E",
    kept={"parts": {"board": {"sharing": "P1 -> P2 x2"}}},
    broken={"parts": {"board": {"sharing": "P1 -> P2 off"}}},
    parts={
        "board": {"slots": "P1 x4 gen3 cpu | P2 x4 gen3 cpu"},
        "card": (Controller, {}),
    },
    slots=(("controller-1", "card", "P1"), ("controller-2", "card", "P2")),
)
for outer, finding in ((141, "L2 I"), (142, "L2 W")):
    # a lane of generation 2 moves 500 MB/s (PCI-SIG base specification), 425 planned:
    # three drives of 141 MB/s move 423, three of 142 move 426
    other = 283 - outer
    edge(
        f"three drives of {outer} MB/s behind one lane of generation 2",
        finding,
        kept={"parts": {k: {"outer_rate_mb_s": other} for k in ("hdd-a", "hdd-b")}},
        broken={"parts": {k: {"outer_rate_mb_s": outer} for k in ("hdd-a", "hdd-b")}},
        parts={
            "board": {"slots": "P1 x4@1 gen2 cpu"},
            "card": (Controller, {**FOUR_PORTS, "generation": 2}),
        },
        wires=on("controller-1"),
        **CARD,
    )
for generation, lanes in ((2, 4), (3, 2)):
    edge(
        f"a card of generation 3 x4 at generation {generation} x{lanes}",
        "L2 I",
        kept={"parts": {"board": {"slots": "P1 x4 gen3 cpu"}}},
        broken={"parts": {"board": {"slots": f"P1 x4@{lanes} gen{generation} cpu"}}},
        parts={"card": (Controller, {"lanes": 4})},
        **CARD,
    )
edge(
    # 1 Gb/s of payload is 117.7 MB/s (IEEE 802.3 frames), of which 106 are planned; a
    # lane of generation 1 moves 212: only ten times the network is too much for it
    "a network card behind one lane of generation 1",
    "L2 W",
    kept={"parts": {"card": {"network_gbit_s": 1}}},
    broken={"parts": {"card": {"network_gbit_s": 10}}},
    parts={"board": {"slots": "P1 x4@1 gen1 cpu"}, "card": (NetworkCard, {})},
    slots=(("network-1", "card", "P1"),),
)
SPLIT = {"slots": "P1 x8 gen3 cpu bifurcates"}
PASSIVE = {
    "board": SPLIT,
    "riser": (Riser, {"lanes": 8, "n_sockets": 2}),
    "cache": (SolidStateDrive, NVME),
}
edge(
    "a slot that splits",
    "L5 E",
    kept={"parts": {"board": SPLIT}},
    broken={"parts": {"board": {"slots": "P1 x8 gen3 cpu"}}},
    parts=PASSIVE,
    **TWO_ON_RISER,
)
edge(
    "eight lanes for two modules",
    "L5 E",
    kept={"parts": {"board": SPLIT}},
    broken={"parts": {"board": {"slots": "P1 x8@4 gen3 cpu bifurcates"}}},
    parts=PASSIVE,
    **TWO_ON_RISER,
)
edge(
    "a riser's own eight lanes for two modules",
    "L5 E",
    kept={"parts": {"riser": {"lanes": 8}}},
    broken={"parts": {"riser": {"lanes": 4}}},
    parts=PASSIVE,
    **TWO_ON_RISER,
)
edge(
    "a riser that switches needs no split",
    "L5 E",
    kept={"parts": {"riser": {"has_switch": True}}},
    broken={"parts": {"riser": {"has_switch": False}}},
    parts={**PASSIVE, "board": {"slots": "P1 x8 gen3 cpu"}},
    **TWO_ON_RISER,
)
edge(
    "one module on a passive riser",
    "L5 E",
    kept={
        "drives": ON_RISER["drives"],
        "slots": ON_RISER["slots"],
        "operation": {"cache": "single"},
    },
    broken=TWO_ON_RISER,
    parts={**PASSIVE, "board": {"slots": "P1 x8 gen3 cpu"}},
    needs={"cache_mirror": False},
)
edge(
    "a processor that splits its lanes",
    "L5 E",
    kept={"parts": {"processor": {"can_bifurcate": True}}},
    broken={"parts": {"processor": {"can_bifurcate": False}}},
    parts={**PASSIVE, **SOCKETED, "board": {"socket": "s1", **SPLIT}},
    **TWO_ON_RISER,
)
edge(
    "a module at fewer than four lanes",
    "L5 I",
    kept={"parts": {"board": {"slots": "P1 x4 gen3 cpu"}}},
    broken={"parts": {"board": {"slots": "P1 x4@2 gen3 cpu"}}},
    parts=RISER,
    **ON_RISER,
)
edge(
    "lanes of the processor",
    "L6 E",
    kept={"parts": {"board": {"cpu_lanes": 8}}},
    broken={"parts": {"board": {"cpu_lanes": 4}}},
    parts={"board": X4_SLOT, "card": (Controller, {"lanes": 4})},
    slots=(("controller-1", "card", "P1"), ("controller-2", "card", "P2")),
)
edge(
    "a slot of the chipset takes no lane of the processor",
    "L6 E",
    kept={"parts": {"board": {"slots": "P1 x4 gen3 cpu | P2 x4 gen3 chipset"}}},
    broken={"parts": {"board": {"slots": "P1 x4 gen3 cpu | P2 x4 gen3 cpu"}}},
    parts={"board": {"cpu_lanes": 4, "chipset_lanes": 4}, "card": (Controller, {})},
    slots=(("controller-1", "card", "P1"), ("controller-2", "card", "P2")),
)
edge(
    "an empty slot takes no lane",
    "L6 E",
    kept={"slots": (("controller-1", "card", "P1"),)},
    broken={"slots": (("controller-1", "card", "P1"), ("controller-2", "card", "P2"))},
    parts={"board": {**X4_SLOT, "cpu_lanes": 4}, "card": (Controller, {"lanes": 4})},
)
edge(
    "a riser at generation 3",
    "L7 W",
    kept={"parts": {"riser": {"generation": 3}}},
    broken={"parts": {"riser": {"generation": 4}}},
    parts={**RISER, "board": {"slots": "P1 x4 gen4 cpu"}},
    **ON_RISER,
)
edge(
    "a card that may keep the processor awake",
    "L8 W",
    kept={"parts": {"card": {"blocks_deep_idle": "no"}}},
    broken={"parts": {"card": {"blocks_deep_idle": "unknown"}}},
    parts={"board": X4_SLOT, "card": (Controller, {})},
    **CARD,
)
edge(
    "a board that has no deep sleep to lose",
    "L8 W",
    kept={"parts": {"board": {"deep_idle_loss_w": 0}}},
    broken={"parts": {"board": {"deep_idle_loss_w": 0.1}}},
    parts={"board": X4_SLOT, "card": (Controller, {"blocks_deep_idle": "yes"})},
    **CARD,
)
for name, shows in (
    ("graphics of the board", {"board": {"has_graphics": True}}),
    ("management", {"board": {"has_management": True, "has_graphics": False}}),
):
    edge(
        f"firmware shown by {name}",
        "L9 E",
        kept={"parts": shows},
        broken={"parts": {"board": {"has_graphics": False, "has_management": False}}},
    )
edge(
    "firmware shown by the processor, not by the board's sockets",
    "L9 E",
    kept={"parts": {"processor": {"has_graphics": True}}},
    broken={"parts": {"processor": {"has_graphics": False}}},
    parts={**SOCKETED, "board": {"socket": "s1", "has_graphics": True}},
)
edge(
    "firmware shown by a card",
    "L9 E",
    kept={"slots": (("display-1", "card", "P1"),)},
    broken={"slots": (), "counts": {"card": 0}},
    parts={"board": {**X4_SLOT, "has_graphics": False}, "card": (DisplayCard, {})},
)

"""Kinds that make the machine itself: chassis, board, processor, power."""

from typing import Annotated, ClassVar, Literal

from pydantic import BeforeValidator, PlainSerializer

from optibox.catalog.columns import (
    Amps,
    Count,
    Fraction,
    Gauge,
    GbS,
    Generation,
    Gibibytes,
    Gigabit,
    Known,
    Lanes,
    Metres,
    Millimetres,
    Part,
    Watts,
    YesNo,
    col,
)
from optibox.catalog.notation import (
    Connector,
    Lead,
    SharingRule,
    Slot,
    leads_from_text,
    sharing_from_text,
    slots_from_text,
)

BoardForm = Literal["mini-itx", "flex-atx", "micro-atx", "atx", "e-atx"]
SupplyForm = Literal["atx", "sfx", "tfx", "flex", "1u", "brick"]
MemoryType = Literal["ddr3", "ddr3l", "ddr4", "ddr5"]
Medium = Literal["twisted pair", "sfp+"]


def _words(text: object) -> object:
    if isinstance(text, str):
        return tuple(word.strip() for word in text.split("|") if word.strip())
    return text


Words = Annotated[tuple[str, ...], BeforeValidator(_words)]
Slots = Annotated[
    tuple[Slot, ...],
    BeforeValidator(lambda v: slots_from_text(v) if isinstance(v, str) else v),
]
Sharing = Annotated[
    tuple[SharingRule, ...],
    BeforeValidator(lambda v: sharing_from_text(v) if isinstance(v, str) else v),
]
Leads = Annotated[
    tuple[Lead, ...],
    BeforeValidator(lambda v: leads_from_text(v) if isinstance(v, str) else v),
    PlainSerializer(lambda v: " | ".join(f"{x.plug} {x.count}" for x in v)),
]


class Chassis(Part):
    """The case with its bays, backplane and fans."""

    kind: ClassVar[str] = "chassis"
    headline: ClassVar[tuple[str, ...]] = ("bays_35", "backplane_connector")

    shape: Literal["rack", "tower", "cube"] = col("How it stands", "tower")
    rack_units: Count = col("Height in rack units, 0 = does not go in a rack", 0)
    board_forms: Words = col("Board forms it takes: 'atx | micro-atx'")
    supply_forms: Words = col("Supply forms its opening takes: 'atx'")
    bays_35: Count = col("3.5 inch bays")
    bays_25: Count = col("2.5 inch bays", 0)
    bay_25_height_mm: Millimetres = col("Tallest drive of a 2.5 inch bay", 9.5)
    backplane_connector: Literal["none", "sata", "sff-8087", "sff-8643"] = col(
        "Connector behind the 3.5 inch bays; multi-lane ones serve four bays each",
        "none",
    )
    backplane_bays: Count | None = col(
        "3.5 inch bays on the backplane; blank = all", None
    )
    backplane_power: Leads = col("Power inlets of the backplane: 'peripheral 2'", ())
    has_hot_plug: YesNo = col("Trays may be pulled while running", default=False)
    tray_holes: Literal["none", "all", "middle side only"] = col(
        "Which side holes its trays use; none = screws from below", "all"
    )
    cooler_clearance_mm: Millimetres = col("Highest processor cooler")
    bracket: Literal["full", "low", "none"] = col("Card brackets it takes")
    card_clearance_mm: Millimetres = col("Longest card")
    n_fans: Count = col("Fans that draw across the drives", 1)
    idle_w: Watts = col("Power of fans and backplane at the part")
    fan_12v_a: Amps = col("Current of fans and backplane on 12 V")

    @property
    def bays_on_backplane(self) -> int:
        """Return the 3.5 inch bays that the backplane connects."""
        if self.backplane_connector == "none":
            return 0
        bays = self.bays_35 if self.backplane_bays is None else self.backplane_bays
        return min(bays, self.bays_35)

    @property
    def backplane(self) -> Connector | None:
        """Return the backplane's connector, or nothing."""
        return None if self.backplane_connector == "none" else self.backplane_connector


class Board(Part):
    """The mainboard; with a soldered processor it needs no other."""

    kind: ClassVar[str] = "board"
    headline: ClassVar[tuple[str, ...]] = ("sata_ports", "slots")

    form: BoardForm = col("Form factor", "mini-itx")
    socket: str = col("Processor socket, or 'soldered'", "soldered")
    sata_ports: Count = col("Onboard SATA ports before sharing losses")
    sata_gbit_s: Gigabit = col("Line rate of the onboard ports", 6.0)
    sata_uplink: Literal["cpu", "chipset"] = col("What the ports hang on", "chipset")
    slots: Slots = col(
        "Slots and sockets: 'P1 x16@8 gen3 cpu | M1 m2 gen3 cpu nvme'", ()
    )
    sharing: Sharing = col("What a used slot takes away: 'M1 sata -> ports -1'", ())
    chipset_generation: Generation = col("PCIe generation of the chipset's link", 3)
    chipset_lanes: Lanes = col("Lanes of the chipset's link; 0 = no chipset", 4)
    memory_type: MemoryType = col("Memory type", "ddr4")
    memory_form: Literal["dimm", "so-dimm"] = col("Module form", "dimm")
    takes_registered: YesNo = col("Takes registered modules", default=False)
    memory_slots: Count = col("Module sockets", 2)
    memory_max_gib: Gibibytes = col("Most memory", 32.0)
    module_max_gib: Gibibytes = col("Largest module", 16.0)
    has_ecc: YesNo = col("Corrects memory errors", default=False)
    network_gbit_s: Gigabit | None = col("Built-in network port; blank = none", 1.0)
    network_medium: Medium = col("Plug of the built-in port", "twisted pair")
    network_uplink: Literal["cpu", "chipset"] = col("What it hangs on", "chipset")
    usb_headers: Count = col("Inside USB places for a boot stick", 1)
    has_graphics: YesNo = col("Display output (soldered processor's)", default=False)
    has_management: YesNo = col("Remote management, always on", default=False)
    processor_tdp_max_w: Watts | None = col("Largest processor; blank = any", None)
    cpu_lanes: Lanes = col("Lanes of a soldered processor", 16)
    cores: Count = col("Cores of a soldered processor", 4)
    parity_gb_s_per_core: GbS = col("Parity and checksum rate of one core")
    encryption_gb_s_per_core: GbS = col("Encryption rate of one core")
    file_sharing_gb_s: GbS = col("One file-sharing stream")
    power_inlet: Literal["atx24", "dc"] = col("Main power plug", "atx24")
    cpu_power_plugs: Count = col("4/8-pin processor plugs it needs", 1)
    dc_sata_plugs: Count = col("Drive power plugs a DC-fed board gives", 0)
    multiplier_support: Literal["none", "command", "fis"] = col(
        "What its ports do with a port multiplier", "none"
    )
    has_staggered_spin_up: YesNo = col("Can start drives in turn", default=False)
    has_hot_plug: YesNo = col("Ports take drives while running", default=False)
    idle_w: Watts = col("Board (with soldered processor) idle, deepest sleep reached")
    active_w: Watts = col("The same while moving data")
    deep_idle_loss_w: Watts = col("Extra when something keeps it out of deep idle")
    off_w: Watts = col("Soft-off power")
    base_12v_a: Amps | None = col(
        "Current on 12 V at full work; blank = from watts", None
    )

    @property
    def has_soldered_processor(self) -> bool:
        """Return whether the board brings its processor."""
        return self.socket == "soldered"


class Processor(Part):
    """A processor for a socket."""

    kind: ClassVar[str] = "processor"
    headline: ClassVar[tuple[str, ...]] = ("socket",)

    socket: str = col("Socket")
    tdp_w: Watts = col("Thermal design power")
    cpu_lanes: Lanes = col("PCIe lanes", 16)
    cores: Count = col("Cores", 2)
    has_graphics: YesNo = col("Display output", default=False)
    has_ecc: YesNo = col("Corrects memory errors", default=False)
    memory_max_gib: Gibibytes = col("Most memory", 32.0)
    parity_gb_s_per_core: GbS = col("Parity and checksum rate of one core")
    encryption_gb_s_per_core: GbS = col("Encryption rate of one core")
    file_sharing_gb_s: GbS = col("One file-sharing stream")
    idle_w: Watts = col("Power added to the board, idle")
    active_w: Watts = col("Power added to the board while moving data")
    can_bifurcate: YesNo = col("Splits its lanes for passive risers", default=False)


class Cooler(Part):
    """A processor cooler."""

    kind: ClassVar[str] = "cooler"
    headline: ClassVar[tuple[str, ...]] = ("sockets", "height_mm")

    sockets: Words = col("Sockets it fits: 'socket-a | socket-b'")
    height_mm: Millimetres = col("Height above the board")
    tdp_w: Watts = col("Heat it can remove")
    idle_w: Watts = col("Power of its fan at the part")


class Memory(Part):
    """One memory module."""

    kind: ClassVar[str] = "memory"
    headline: ClassVar[tuple[str, ...]] = ("memory_type", "gib")

    memory_type: MemoryType = col("Memory type")
    form: Literal["dimm", "so-dimm"] = col("Module form", "dimm")
    gib: Gibibytes = col("Capacity of the module")
    is_registered: YesNo = col("Registered (buffered)", default=False)
    has_ecc: YesNo = col("Carries check bits", default=False)
    idle_w: Watts = col("Power at the part")
    active_w: Watts | None = col("Power at the part, busy; blank = idle", None)


class PowerSupply(Part):
    """The supply with its loss curve, rails and leads."""

    kind: ClassVar[str] = "power supply"
    headline: ClassVar[tuple[str, ...]] = ("form", "rated_w")

    form: SupplyForm = col("Form factor")
    rated_w: Watts = col("Rated output")
    loss_fixed_w: Watts = col("Loss at no load (a)")
    loss_share: Fraction = col("Loss in proportion to the output (b)")
    loss_square: Fraction = col("Square-law loss per rated watt (c)")
    rail_12v_a: Amps = col("Most current on 12 V")
    rail_5v_a: Amps = col("Most current on 5 V")
    power_plug: Literal["atx24", "dc"] = col("Main plug for the board", "atx24")
    cpu_power_plugs: Count = col("4/8-pin processor plugs", 1)
    leads: Leads = col("Drive leads: 'sata 3 | sata 3 | peripheral 3'")
    carries_3v3: YesNo = col("Its SATA leads carry 3.3 V", default=True)
    combined_w: Watts | None = col(
        "Most power on 3.3 and 5 V together; blank = 5 V times its current", None
    )
    socket_a: Amps | None = col(
        "Most current of one lead's socket, on each voltage; blank = as its wire", None
    )
    lead_awg: Gauge = col("Wire gauge of its drive leads (AWG)", 18)
    lead_m: Metres = col("Length of its drive leads", 0.6)
    off_w: Watts = col("Power while the machine is off")


class PowerLead(Part):
    """A power adapter or splitter inside the case."""

    kind: ClassVar[str] = "power lead"
    headline: ClassVar[tuple[str, ...]] = ("takes_plug", "gives_plug")

    takes_plug: Literal["sata", "peripheral"] = col("Plug of the supply it hangs on")
    gives_plug: Literal["sata", "peripheral"] = col("Plug it offers")
    fan_out: Count = col("How many plugs it offers", 1)
    is_moulded: Known = col("Plug moulded around the wires (a fire risk)", "unknown")
    carries_3v3: YesNo = col("Passes 3.3 V on", default=False)
    most_a: Amps | None = col(
        "Most current it carries, on each voltage; blank = as plug and wire", None
    )
    awg: Gauge = col("Wire gauge (AWG)", 18)
    length_m: Metres = col("Length", 0.15)


class MountingPlate(Part):
    """A plate that fits a supply of one form into an opening of another."""

    kind: ClassVar[str] = "mounting plate"
    headline: ClassVar[tuple[str, ...]] = ("supply_form", "opening_form")

    supply_form: SupplyForm = col("Supply it holds")
    opening_form: SupplyForm = col("Opening it fills")

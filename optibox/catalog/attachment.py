"""Kinds that connect: controllers, network, cables, risers, displays."""

from typing import Annotated, ClassVar, Literal

from pydantic import BeforeValidator, PlainSerializer

from optibox.catalog.columns import (
    Count,
    Generation,
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
from optibox.catalog.notation import Connector, Connectors, connectors_from_text
from optibox.catalog.platform import Medium

Bracket = Literal["full", "low", "both"]
"""Which brackets come with a card; ``both`` fits every chassis."""

ConnectorCell = Annotated[
    Connectors,
    BeforeValidator(lambda v: connectors_from_text(v) if isinstance(v, str) else v),
    PlainSerializer(lambda v: f"{v.count} {v.connector}"),
]


class Card(Part):
    """What goes into a PCIe slot or, for some controllers, an M.2 socket."""

    bus: Literal["pcie", "m2"] = col("Slot it goes into", "pcie")
    generation: Generation = col("PCIe generation")
    lanes: Lanes = col("Lanes of its edge")
    module_length_mm: Literal[0, 42, 60, 80, 110] = col("Length of a module", 0)
    bracket: Bracket = col("Brackets in the box", "full")
    length_mm: Millimetres = col("Length of the card", 167.0)
    idle_w: Watts = col("Power at the part, idle")
    active_w: Watts = col("Power at the part, working")
    blocks_deep_idle: Known = col("Keeps the processor out of deep idle", "unknown")
    needs_airflow: YesNo = col("Passive and hot", default=False)

    @property
    def is_deep_idle_blocker(self) -> bool:
        """Return whether the card must be taken to cost the board's deep idle."""
        return self.blocks_deep_idle != "no"


class Controller(Card):
    """A card with drive ports."""

    kind: ClassVar[str] = "controller"
    headline: ClassVar[tuple[str, ...]] = ("connectors", "native_ports")

    connectors: ConnectorCell = col("Connectors: '4 sata' or '2 sff-8087'")
    native_ports: Count | None = col("Ports of its chips; blank = unknown", None)
    n_chips: Count = col("Controller chips on the card", 1)
    topology: Literal["native", "multiplier", "unknown"] = col(
        "How the connectors hang on the chip", "unknown"
    )
    switching: Literal["", "command", "fis"] = col("How its multiplier switches", "")
    host_link_gbit_s: Gigabit = col("Line rate of a multiplier's host link", 6.0)
    link_gbit_s: Gigabit = col("Line rate of its ports", 6.0)
    speaks_sas: YesNo = col("Takes SAS drives", default=False)
    has_32_bit_addresses: YesNo = col("Sees 2.2 TB of a drive only", default=False)
    pass_through: Literal["yes", "after new firmware", "no", "unknown"] = col(
        "Gives drives to the system as they are", "unknown"
    )
    passes_standby: Known = col("Lets drives be put to sleep", "unknown")
    has_staggered_spin_up: YesNo = col("Can start drives in turn", default=False)
    has_hot_plug: YesNo = col("Ports take drives while running", default=False)

    @property
    def n_ports(self) -> int:
        """Return the drives that its connectors reach."""
        return self.connectors.lanes

    @property
    def is_multiplied(self) -> bool:
        """Return whether its ports must be taken to share a chip port."""
        if self.topology == "native":
            return self.native_ports is not None and self.n_ports > self.native_ports
        return True


class NetworkCard(Card):
    """A card with a network port."""

    kind: ClassVar[str] = "network card"
    headline: ClassVar[tuple[str, ...]] = ("network_gbit_s", "medium")

    network_gbit_s: Gigabit = col("Line rate of one port")
    medium: Medium = col("Plug", "twisted pair")


class Riser(Card):
    """A card that carries M.2 modules."""

    kind: ClassVar[str] = "riser"
    headline: ClassVar[tuple[str, ...]] = ("n_sockets", "has_switch")

    n_sockets: Count = col("M.2 sockets it offers", 1)
    socket_lanes: Lanes = col("Lanes of each socket", 4)
    socket_length_mm: Literal[42, 60, 80, 110] = col("Longest module", 80)
    has_switch: YesNo = col(
        "Carries a switch chip, needs no bifurcation", default=False
    )


class DisplayCard(Card):
    """A display or management card, where nothing else shows the firmware."""

    kind: ClassVar[str] = "display card"
    headline: ClassVar[tuple[str, ...]] = ("lanes",)

    is_management: YesNo = col("Remote management, always on", default=False)


class Cable(Part):
    """A data cable; the two ends are not interchangeable."""

    kind: ClassVar[str] = "cable"
    headline: ClassVar[tuple[str, ...]] = ("direction", "multi_lane_end")

    direction: Literal["single", "forward", "reverse", "straight"] = col(
        "single: one port to one drive; forward: multi-lane at the controller, four "
        "drives; reverse: four ports at the controller, multi-lane at the backplane; "
        "straight: multi-lane at both ends"
    )
    controller_end: Connector = col("Connector at the controller")
    drive_end: Connector = col("Connector at the drives or the backplane")
    length_m: Metres = col("Length", 0.5)
    has_sideband: YesNo = col("Carries activity and locate signals", default=False)

    @property
    def n_drives(self) -> int:
        """Return how many drives one cable serves at most."""
        return 1 if self.direction == "single" else 4


class NetworkLead(Part):
    """A network lead or a pair of transceivers with fibre."""

    kind: ClassVar[str] = "network lead"
    headline: ClassVar[tuple[str, ...]] = ("medium", "network_gbit_s")

    medium: Medium = col("Plug at both ends")
    network_gbit_s: Gigabit = col("Fastest line rate")
    type: Literal["cat5e", "cat6", "cat6a", "direct attach", "optic"] = col(
        "What it is"
    )
    length_m: Metres = col("Length", 3.0)
    idle_w: Watts = col("Power of the transceiver in this machine")

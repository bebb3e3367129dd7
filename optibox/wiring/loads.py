"""What wants power in a machine, and what gives it."""

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

from optibox.build import BOARD
from optibox.catalog.notation import Plug
from optibox.catalog.platform import Chassis, PowerLead, PowerSupply
from optibox.catalog.storage import BootMedium, Drive, HardDrive
from optibox.figures.power import drive_5v_a, host_staggers, staggered_group
from optibox.machine import DriveView, Machine
from optibox.machine.bays import is_on_backplane, needs_port
from optibox.physics.wires import edge_ohm, wire_most_a
from optibox.scenario import Factors
from optibox.wiring.amperes import Draw

INLET = "backplane"
"""Inlets are named ``backplane-1`` and on."""
LEAD, PIECE = "lead", "power"
"""Leads of the supply are named ``lead-1`` and on, adapters ``power-1`` and on."""
MOHM_PER_OHM = 1000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """What takes one plug: a drive, or an inlet of a backplane."""

    name: str
    plug: Plug
    draws: tuple[Draw, ...]
    held: tuple[str, ...] = ()
    """Drives that 3.3 V on this plug holds in reset."""
    doubtful: tuple[str, ...] = ()
    """Drives of which nobody knows whether it does."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Giver:
    """What offers plugs: a lead of the supply, the board, or an adapter.

    Attributes
    ----------
    most_a : float
        What its wire, socket and rating allow, on each voltage. [A]
    ohm : float
        Its wires both ways and the contacts of the plug at the end. [ohm]
    """

    name: str
    gives: Plug
    n_plugs: int
    most_a: float
    ohm: float
    has_3v3: bool
    takes: Plug | None = None
    """The plug it hangs on; nothing for leads of the supply and the board."""
    is_moulded: str = "no"
    key: str = ""
    label: str = ""

    @property
    def make(self) -> tuple[object, ...]:
        """Return what tells it apart from others, names aside."""
        return (
            self.takes or "",
            self.gives,
            self.n_plugs,
            self.most_a,
            self.ohm,
            self.has_3v3,
            self.is_moulded,
            self.key,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Ends:
    """Both ends of a power tree, and what lies between: what gives, what wants.

    ``groups`` tells how many of its drives a host may start at once, where it staggers.
    """

    leads: tuple[Giver, ...]
    pieces: tuple[Giver, ...]
    loads: tuple[Load, ...]
    groups: Mapping[str, int]
    factors: Factors


def ends_of(machine: Machine) -> Ends:
    """Return what gives and what wants power in a machine."""
    return Ends(
        leads=leads_of(machine),
        pieces=pieces_in(machine),
        loads=loads_of(machine),
        groups=groups_of(machine),
        factors=machine.factors,
    )


def plug_most_a(plug: str, factors: Factors) -> float:
    """Return what a plug of a type carries on each voltage. [A]."""
    if plug == "sata":
        return factors.sata_plug_a.mid
    return factors.peripheral_plug_a.mid


def leads_of(machine: Machine) -> tuple[Giver, ...]:
    """Return the leads of the supply, and the board's drive plugs."""
    found = list[Giver]()
    if machine.supply is not None:
        found += supply_leads(machine.supply, machine.factors)
    board = machine.board
    if board is not None and board.dc_sata_plugs:
        found.append(board_lead(board.dc_sata_plugs, machine.factors))
    return tuple(found)


def supply_leads(supply: PowerSupply, factors: Factors) -> Iterator[Giver]:
    """Yield the leads of a supply."""
    most_a = wire_most_a(supply.lead_awg, factors.power_lead_a.mid)
    if supply.socket_a is not None:
        most_a = min(most_a, supply.socket_a.mid)
    contact = factors.contact_mohm.mid / MOHM_PER_OHM
    for number, lead in enumerate(supply.leads, 1):
        yield Giver(
            name=f"{LEAD}-{number}",
            gives=lead.plug,
            n_plugs=lead.count,
            most_a=most_a,
            ohm=edge_ohm(supply.lead_awg, supply.lead_m, contact),
            has_3v3=lead.plug == "sata" and supply.carries_3v3,
            label=f"lead {number} of the supply",
        )


def board_lead(n_plugs: int, factors: Factors) -> Giver:
    """Return the drive plugs of a board that is fed by one direct voltage.

    They hang on one header: together they are planned like one lead, half a metre long
    (judgement), and carry no 3.3 V.
    """
    contact = factors.contact_mohm.mid / MOHM_PER_OHM
    return Giver(
        name=BOARD,
        gives="sata",
        n_plugs=n_plugs,
        most_a=factors.power_lead_a.mid,
        ohm=edge_ohm(18, 0.5, contact),
        has_3v3=False,
        label="the drive lead of the board",
    )


def piece_of(part: PowerLead, key: str, name: str, factors: Factors) -> Giver:
    """Return an adapter, splitter or extension."""
    most_a = wire_most_a(part.awg, factors.power_lead_a.mid)
    if part.most_a is not None:
        most_a = min(most_a, part.most_a.mid)
    contact = factors.contact_mohm.mid / MOHM_PER_OHM
    return Giver(
        name=name,
        gives=part.gives_plug,
        n_plugs=part.fan_out,
        most_a=min(most_a, plug_most_a(part.takes_plug, factors)),
        ohm=edge_ohm(part.awg, part.length_m, contact),
        has_3v3=part.carries_3v3,
        takes=part.takes_plug,
        is_moulded=part.is_moulded,
        key=key,
        label=part.name,
    )


def pieces_in(machine: Machine) -> tuple[Giver, ...]:
    """Return every adapter of a machine, piece by piece."""
    found = list[Giver]()
    for entry in machine.build.items:
        if isinstance(entry.item.part, PowerLead):
            for _ in range(entry.count):
                name = f"{PIECE}-{len(found) + 1}"
                part, key = entry.item.part, entry.item.key
                found.append(piece_of(part, key, name, machine.factors))
    return tuple(found)


def draw_of(part: Drive | BootMedium, name: str, host: str, share: float = 1.0) -> Draw:
    """Return what a drive draws."""
    run = part.run_12v_a.mid if isinstance(part, HardDrive) else 0.0
    peak = part.spin_up_12v_a.mid if isinstance(part, HardDrive) else 0.0
    return Draw(
        name=name,
        host=host,
        run_12v_a=run,
        rise_12v_a=max(0.0, peak - run),
        run_5v_a=drive_5v_a(part),
        share=share,
    )


def groups_of(machine: Machine) -> dict[str, int]:
    """Return how many drives each host that staggers may start at once."""
    group = staggered_group(machine)
    if group is None:
        return {}
    hosts = {d.connection.host for d in machine.drives if d.connection is not None}
    return {host: group for host in hosts if host_staggers(machine, host)}


def loads_of(machine: Machine) -> tuple[Load, ...]:
    """Return everything that wants a plug: bare drives, then inlets of the backplane.

    Only hosts that stagger are told apart: all others start what they have.
    """
    chassis, hosts = machine.chassis, groups_of(machine).keys()
    behind, bare = list[DriveView](), list[Load]()
    for drive in machine.drives:
        if not needs_port(drive) or drive.connection is None:
            continue
        if is_fed(chassis, drive.connection.bay):
            behind.append(drive)
        else:
            bare.append(_bare(drive, hosts))
    if chassis is None or not chassis.backplane_power:
        return tuple(bare)
    return (*bare, *_inlets(chassis, behind, hosts))


def is_fed(chassis: Chassis | None, bay: str) -> bool:
    """Return whether the backplane feeds the drive in a bay."""
    if chassis is None or not chassis.backplane_power:
        return False
    return is_on_backplane(chassis, bay)


def _bare(drive: DriveView, hosts: Collection[str]) -> Load:
    word = power_disable(drive)
    return Load(
        name=drive.name,
        plug="sata",
        draws=(_draw(drive, hosts),),
        held=(drive.name,) if word == "yes" else (),
        doubtful=(drive.name,) if word == "unknown" else (),
    )


def _draw(drive: DriveView, hosts: Collection[str], share: float = 1.0) -> Draw:
    host = drive.connection.host if drive.connection else ""
    host = host if host in hosts else ""
    return draw_of(drive.part, drive.name, host, share)


def power_disable(drive: DriveView) -> str:
    """Return whether 3.3 V holds a drive in reset: yes, no or unknown."""
    return drive.part.has_power_disable if isinstance(drive.part, HardDrive) else "no"


def _inlets(
    chassis: Chassis, behind: list[DriveView], hosts: Collection[str]
) -> Iterator[Load]:
    """Yield the inlets of a backplane, which lie in parallel and share its load."""
    plugs = [x.plug for x in chassis.backplane_power for _ in range(x.count)]
    share = 1.0 / len(plugs)
    fans = Draw(name="fans", run_12v_a=chassis.fan_12v_a.mid, share=share)
    draws = tuple(_draw(drive, hosts, share) for drive in behind)
    for number, plug in enumerate(plugs, 1):
        yield Load(
            name=f"{INLET}-{number}",
            plug=plug,
            draws=(*draws, fans),
            held=tuple(d.name for d in behind if power_disable(d) == "yes"),
            doubtful=tuple(d.name for d in behind if power_disable(d) == "unknown"),
        )

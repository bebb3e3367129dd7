"""Currents of a start, by group on the rails and by lead of the supply."""

from dataclasses import dataclass

from optibox.catalog.notation import Lead
from optibox.catalog.storage import HardDrive
from optibox.figures.power import base_12v_a, drive_5v_a, rail_12v_a
from optibox.machine import DriveView, Machine
from optibox.rules.context import Context, is_on_backplane
from optibox.rules.power import SATA_PLUG_A, bare_drives


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupCurrent:
    """The rails while so many array drives start at once, the rest running."""

    group: int
    on_12v_a: float
    on_5v_a: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LeadCurrent:
    """One lead of the supply with the drives that it can be taken to feed."""

    number: int
    plug: str
    plugs: int
    drives: tuple[str, ...]
    on_12v_a: float
    """All its drives starting at once. [A]"""
    on_5v_a: float
    most_12v_a: float | None
    """What the lead is planned to carry; nothing where no figure is known. [A]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Currents:
    """All currents of a start."""

    base_12v_a: float
    rail_12v_a: float
    planned_12v_a: float
    rail_5v_a: float
    groups: tuple[GroupCurrent, ...]
    leads: tuple[LeadCurrent, ...]

    @property
    def largest_group(self) -> int:
        """Return how many drives may start together within the planned share."""
        fits = [g.group for g in self.groups if g.on_12v_a <= self.planned_12v_a]
        return max(fits, default=0)


def currents_of(context: Context) -> Currents | None:
    """Return the currents of a start; nothing where there is no supply.

    A build does not say which drive hangs on which lead: drives are spread evenly over
    the plugs of their type, backplanes over the leads in their order.
    """
    machine = context.machine
    supply = machine.supply
    if supply is None:
        return None
    rail = supply.rail_12v_a.mid
    on_5v = sum(drive_5v_a(drive.part) for drive in machine.drives)
    return Currents(
        base_12v_a=sum(e.count * base_12v_a(e.item.part) for e in machine.build.items),
        rail_12v_a=rail,
        planned_12v_a=rail * machine.factors.rail_share.mid,
        rail_5v_a=supply.rail_5v_a.mid,
        groups=tuple(
            GroupCurrent(group=n, on_12v_a=rail_12v_a(machine, n), on_5v_a=on_5v)
            for n in range(1, len(machine.array) + 1)
        ),
        leads=_leads(context),
    )


def _leads(context: Context) -> tuple[LeadCurrent, ...]:
    machine = context.machine
    leads = machine.supply.leads if machine.supply else ()
    bare = [d for d in machine.drives if d.name in set(bare_drives(context))]
    fed = _fed(machine)
    inlets = machine.chassis.backplane_power if machine.chassis else ()
    types = {lead.plug for lead in inlets}
    loads: list[list[DriveView]] = [[] for _ in leads]
    _spread(bare, [i for i, lead in enumerate(leads) if lead.plug == "sata"], loads)
    _spread(fed, [i for i, lead in enumerate(leads) if lead.plug in types], loads)
    return tuple(
        _lead(machine, number, lead, loads[number - 1])
        for number, lead in enumerate(leads, 1)
    )


def _fed(machine: Machine) -> list[DriveView]:
    """Return the drives that the backplane feeds."""
    chassis = machine.chassis
    if chassis is None or not chassis.backplane_power:
        return []
    return [
        drive
        for drive in machine.drives
        if drive.connection and is_on_backplane(chassis, drive.connection.bay)
    ]


def _spread(
    drives: list[DriveView], leads: list[int], loads: list[list[DriveView]]
) -> None:
    """Put each drive on the lead that has the fewest so far."""
    for drive in drives:
        if leads:
            loads[min(leads, key=lambda i: (len(loads[i]), i))].append(drive)


def _lead(
    machine: Machine, number: int, lead: Lead, drives: list[DriveView]
) -> LeadCurrent:
    starts = [d.part.spin_up_12v_a.mid for d in drives if isinstance(d.part, HardDrive)]
    on_5v = [drive_5v_a(drive.part) for drive in drives]
    is_sata = lead.plug == "sata"
    most = (
        SATA_PLUG_A * lead.count if is_sata else machine.factors.peripheral_lead_a.mid
    )
    return LeadCurrent(
        number=number,
        plug=lead.plug,
        plugs=lead.count,
        drives=tuple(drive.name for drive in drives),
        on_12v_a=sum(starts),
        on_5v_a=sum(on_5v),
        most_12v_a=most,
    )

"""Currents of a start, by group on the rails and by edge of the power tree."""

from collections.abc import Iterator
from dataclasses import dataclass

from optibox.figures.power import base_12v_a, drive_5v_a, rail_12v_a
from optibox.rules.context import Context
from optibox.wiring import Amperes, PowerTree
from optibox.wiring.words import PLUG_WORDS, giver_words, plug_name


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupCurrent:
    """The rails while so many array drives start at once, the rest running."""

    group: int
    on_12v_a: float
    on_5v_a: float


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgeCurrent:
    """A lead of the supply, or one of its plugs or adapters, with what it carries."""

    name: str
    """``lead 1 (SATA power, 4 plugs)``, or a plug and what hangs on it."""
    feeds: tuple[str, ...]
    """Drives and inlets of the backplane."""
    at_work_12v_a: float
    on_12v_a: float
    """While as many drives start as their hosts start together. [A]"""
    on_5v_a: float
    most_a: float
    """What it is planned to carry on each voltage. [A]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Currents:
    """All currents of a start."""

    base_12v_a: float
    rail_12v_a: float
    planned_12v_a: float
    rail_5v_a: float
    groups: tuple[GroupCurrent, ...]
    leads: tuple[EdgeCurrent, ...]
    """Leads of the supply and the board."""
    adapters: tuple[EdgeCurrent, ...]
    """Plugs that feed more than one thing, through an adapter."""

    @property
    def largest_group(self) -> int:
        """Return how many drives may start together within the planned share."""
        fits = [g.group for g in self.groups if g.on_12v_a <= self.planned_12v_a]
        return max(fits, default=0)


def currents_of(context: Context) -> Currents | None:
    """Return the currents of a start; nothing where there is no supply."""
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
        leads=tuple(_leads(context.power)),
        adapters=tuple(_adapters(context.power)),
    )


def _leads(tree: PowerTree) -> Iterator[EdgeCurrent]:
    for lead in tree.leads:
        plugs = f"{lead.n_plugs} plug{'' if lead.n_plugs == 1 else 's'}"
        yield _current(
            f"{giver_words(lead)} ({PLUG_WORDS[lead.gives]}, {plugs})",
            tree.below(lead),
            tree.on_lead(lead),
            lead.most_a,
        )


def _adapters(tree: PowerTree) -> Iterator[EdgeCurrent]:
    for edge in tree.edges:
        if edge.piece is not None:
            name = f"{plug_name(edge)}, {edge.piece.name} ({edge.piece.label})"
            yield _current(name, tree.below(edge.piece), edge.carries, edge.most_a)


def _current(
    name: str, feeds: tuple[str, ...], flow: Amperes, most_a: float
) -> EdgeCurrent:
    return EdgeCurrent(
        name=name,
        feeds=feeds,
        at_work_12v_a=flow.at_work_12v_a,
        on_12v_a=flow.at_start_12v_a,
        on_5v_a=flow.on_5v_a,
        most_a=most_a,
    )

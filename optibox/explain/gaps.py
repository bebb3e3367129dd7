"""What no row of a catalog offers, and whether that is why nothing fits.

A gap is named where parts are there that nothing joins: a backplane without a cable, a
socket without a processor. Where one small part would join them, it is made up, at no
price, and the planner is asked again: a machine proves that the gap is the cause.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from optibox.build import items_of
from optibox.catalog.attachment import Cable, Controller, NetworkCard, NetworkLead
from optibox.catalog.catalog import Catalog
from optibox.catalog.columns import Part
from optibox.catalog.platform import (
    Board,
    Chassis,
    Cooler,
    Memory,
    MountingPlate,
    PowerLead,
    PowerSupply,
    Processor,
)
from optibox.catalog.storage import BootMedium, DriveAdapter, HardDrive
from optibox.explain.asker import Asker, StoppedError
from optibox.explain.records import Gap
from optibox.scenario import Scenario

_NAMES = {"sata": "SATA", "sff-8087": "SFF-8087", "sff-8643": "SFF-8643"}
MADE_UP = "made-up"


@dataclass(frozen=True, slots=True, kw_only=True)
class Missing:
    """A gap, and a part that would fill it where one small part is enough."""

    words: str
    part: Part | None = None


def missing_of(catalog: Catalog, scenario: Scenario) -> tuple[Missing, ...]:
    """Return everything that joins parts and is not on offer."""
    shelf = _Shelf([item.part for item in items_of(catalog, scenario)])
    found = [
        *_kinds(shelf),
        *_cables(shelf),
        *_leads(shelf, scenario),
        *_sockets(shelf),
        *_memory(shelf),
        *_supplies(shelf),
        *_small(shelf),
    ]
    return tuple({missing.words: missing for missing in found}.values())


def gaps_of(asker: Asker, scenario: Scenario) -> tuple[Gap, ...]:
    """Return the gaps of a catalog; those that would help first, each tried."""
    found = []
    for missing in missing_of(asker.catalog, scenario):
        helps = None
        if missing.part is not None:
            wider = asker.with_catalog(asker.catalog.with_parts([missing.part]))
            try:
                built = wider.build_for(scenario, f"with {missing.part.id}")
                helps = built is not None
            except StoppedError:
                asker.is_stopped = True
            asker.n_searches += wider.n_searches
        found.append(Gap(words=missing.words, would_help=helps))
    return tuple(sorted(found, key=lambda gap: gap.would_help is not True))


@dataclass(frozen=True, slots=True)
class _Shelf:
    """What is on offer."""

    parts: list[Part]

    def of(self, record: type[Any]) -> list[Any]:
        return [part for part in self.parts if isinstance(part, record)]


def _made(record: type[Part], **values: object) -> Part:
    return record.model_validate(
        {"id": f"{MADE_UP}-{record.kind.replace(' ', '-')}", "price": 0.0, **values}
    )


def _kinds(shelf: _Shelf) -> Iterator[Missing]:
    for record in (
        Chassis,
        Board,
        Memory,
        PowerSupply,
        BootMedium,
        HardDrive,
        Cable,
        NetworkLead,
    ):
        if not shelf.of(record):
            yield Missing(words=f"no {record.kind} is on offer")


def _cables(shelf: _Shelf) -> Iterator[Missing]:
    """Yield the cables between connectors that are there."""
    have = {(c.direction, c.controller_end, c.drive_end) for c in shelf.of(Cable)}
    cards = {c.connectors.connector for c in shelf.of(Controller)} - {"sata"}
    backs = {c.backplane for c in shelf.of(Chassis)} - {None, "sata"}
    wanted = [("single", "sata", "sata")]
    wanted += [("forward", card, "sata") for card in sorted(cards)]
    wanted += [("reverse", "sata", back) for back in sorted(backs)]
    wanted += [("straight", c, back) for c in sorted(cards) for back in sorted(backs)]
    for direction, host, drive in wanted:
        if (direction, host, drive) in have:
            continue
        far = "backplane" if direction in ("reverse", "straight") else "drive"
        words = (
            f"no {direction} cable from {_NAMES[host]} at the port to {_NAMES[drive]} "
            f"at the {far}"
        )
        ends = {"direction": direction, "controller_end": host, "drive_end": drive}
        yield Missing(words=words, part=_made(Cable, **ends))


def _leads(shelf: _Shelf, scenario: Scenario) -> Iterator[Missing]:
    have = {lead.medium for lead in shelf.of(NetworkLead)}
    ports = {c.medium for c in shelf.of(NetworkCard)}
    ports |= {b.network_medium for b in shelf.of(Board) if b.network_gbit_s}
    medium = scenario.needs.other_end_medium
    if medium not in ports:
        yield Missing(words=f"no network port for {medium}")
    elif medium not in have:
        kind = "cat6a" if medium == "twisted pair" else "direct attach"
        lead = _made(NetworkLead, medium=medium, network_gbit_s=10, type=kind, idle_w=0)
        yield Missing(words=f"no network lead for {medium}", part=lead)


def _sockets(shelf: _Shelf) -> Iterator[Missing]:
    sockets = {b.socket for b in shelf.of(Board) if not b.has_soldered_processor}
    processors = {p.socket for p in shelf.of(Processor)}
    coolers = {s for cooler in shelf.of(Cooler) for s in cooler.sockets}
    for socket in sorted(sockets):
        if socket not in processors:
            yield Missing(words=f"no processor for socket {socket}")
        elif socket not in coolers:
            part = _made(Cooler, sockets=socket, height_mm=25, tdp_w=150, idle_w=1)
            yield Missing(words=f"no cooler for socket {socket}", part=part)


def _memory(shelf: _Shelf) -> Iterator[Missing]:
    have = {(m.memory_type, m.form) for m in shelf.of(Memory)}
    wanted = {(b.memory_type, b.memory_form) for b in shelf.of(Board)}
    for kind, form in sorted(wanted - have):
        part = _made(Memory, memory_type=kind, form=form, gib=8, idle_w=1)
        words = f"no {kind.upper()} {form.upper()} memory for boards that take it"
        yield Missing(words=words, part=part)


def _supplies(shelf: _Shelf) -> Iterator[Missing]:
    forms = {s.form for s in shelf.of(PowerSupply)}
    plates = {(p.supply_form, p.opening_form) for p in shelf.of(MountingPlate)}
    for chassis in shelf.of(Chassis):
        reached = {a for a, b in plates if b in chassis.supply_forms}
        if not forms & (set(chassis.supply_forms) | reached):
            takes = " or ".join(form.upper() for form in chassis.supply_forms)
            yield Missing(words=f"no {takes} supply for {chassis.name or chassis.id}")


def _small(shelf: _Shelf) -> Iterator[Missing]:
    if not shelf.of(DriveAdapter):
        part = _made(DriveAdapter, max_height_mm=15, fits_tray=True)
        words = "no adapter that fits 2.5 inch drives into 3.5 inch bays"
        yield Missing(words=words, part=part)
    if not any(p.gives_plug == "sata" for p in shelf.of(PowerLead)):
        part = _made(
            PowerLead, takes_plug="peripheral", gives_plug="sata", is_moulded="no"
        )
        yield Missing(words="no crimped adapter from 4-pin to SATA power", part=part)

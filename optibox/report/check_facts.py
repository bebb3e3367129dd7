"""What a check says: the machine, its findings with what mends them, its figures."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property

from optibox.assess import Assessment, route_to
from optibox.build import BOARD
from optibox.catalog.attachment import Card, Controller
from optibox.catalog.catalog import Catalog
from optibox.completion import Completion
from optibox.completion.mending import Mend
from optibox.figures.chains import Chain, cache_chain
from optibox.figures.parts_power import PowerTable, power_table
from optibox.figures.risk import Risk, risk_of
from optibox.machine.view import trained
from optibox.migration import Route
from optibox.physics.chain import Stage
from optibox.report.settle import merged
from optibox.report.wiring_map import context_of
from optibox.report.words import clean
from optibox.rules import Finding, Severity
from optibox.rules.currents import Currents, currents_of
from optibox.rules.reach import SAFE_ORDER, reach_findings
from optibox.scenario import Assumed

SEVERITIES: tuple[Severity, ...] = ("error", "warning", "information")


_NOT_BUILT = frozenset({"A11", "D1", "D2", "D3", "D4", "N1", "T1", "W1", SAFE_ORDER})
"""Rules of what is asked of a machine, and of the way to it; all others are about the
machine itself."""


@dataclass(frozen=True, kw_only=True)
class CheckReport:
    """A checked machine with all that is said about it."""

    name: str
    completion: Completion
    currency: str
    stamp: str = ""
    """How far the catalog can be trusted; empty where none was used."""
    is_asked: bool = True
    """A scenario was given; otherwise nothing is asked of the machine."""
    defaults: tuple[Assumed, ...] = ()
    mends: Mapping[Finding, Mend] = field(default_factory=dict)
    together: tuple[Mend, Assessment] | None = None
    """What mends all errors that parts can mend, and the machine after it."""
    catalog: Catalog | None = None

    @property
    def found(self) -> Assessment:
        """Return the machine's assessment."""
        return self.completion.assessment

    @cached_property
    def route(self) -> Route | None:
        """Return the order in which to move what drives hold, where there is a move.

        A machine that stands there already, all of it owned, is not moved into, and
        into one that cannot be put together as it is nobody can move.
        """
        if self.found.build.is_standing or not self.is_buildable:
            return None
        route = route_to(self.found)
        return route if route.is_needed else None

    @property
    def is_buildable(self) -> bool:
        """Return whether it can be put together, whatever is asked of it."""
        return all(finding.rule in _NOT_BUILT for finding in self.found.errors)

    @cached_property
    def findings(self) -> tuple[Finding, ...]:
        """Return the evaluator's findings and those of moving data, errors first."""
        moving = reach_findings(self.route) if self.route is not None else ()
        # nobody moves into what cannot be put together; the order is told once
        own = [f for f in self.found.findings if f.rule != SAFE_ORDER]
        every = (*own, *moving)
        return tuple(sorted(every, key=lambda f: SEVERITIES.index(f.severity)))

    @property
    def is_fit(self) -> bool:
        """Return whether there is no error."""
        return all(finding.severity != "error" for finding in self.findings)

    def mend_of(self, finding: Finding) -> Mend | None:
        """Return what mends a finding, or what mends one of those merged into it."""
        for told, mend in self.mends.items():
            if (told.rule, told.severity) != (finding.rule, finding.severity):
                continue
            if (
                finding in merged([told])
                or clean(told.evidence)[-24:] == (finding.evidence[-24:])
            ):
                return mend
        return None

    def by_severity(self, severity: Severity) -> tuple[Finding, ...]:
        """Return the findings of a severity, equal ones about several drives as one."""
        return tuple(f for f in merged(self.findings) if f.severity == severity)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChainRow:
    """One operation: its rate, what sets it, what removing that would bring."""

    operation: str
    rate_mb_s: float
    stages: tuple[Stage, ...]
    """All stages, the slowest first."""

    @property
    def binding(self) -> tuple[str, ...]:
        """Return the stages that set the rate, equal ones together."""
        least = self.stages[0].rate_mb_s * (1 + 1e-9)
        return tuple(s.name for s in self.stages if s.rate_mb_s <= least)

    @property
    def next(self) -> Stage | None:
        """Return the stage that would set the rate without the binding one."""
        rest = self.stages[len(self.binding) :]
        return next((s for s in rest if s.rate_mb_s != float("inf")), None)

    @property
    def gain_mb_s(self) -> float | None:
        """Return what removing the binding stage would bring; nothing = no next one."""
        return None if self.next is None else self.next.rate_mb_s - self.rate_mb_s


def chain_rows(found: Assessment) -> tuple[ChainRow, ...]:
    """Return every operation's chain at the fill of the needs."""
    fill = found.scenario.needs.fill_fraction
    chains: list[Chain] = [*found.chains(fill)]
    if found.machine.in_role("cache"):
        chains.append(cache_chain(found.machine))
    return tuple(_chain_row(chain) for chain in chains)


def _chain_row(chain: Chain) -> ChainRow:
    stages = tuple(sorted(chain.stages, key=lambda stage: stage.rate_mb_s))
    return ChainRow(operation=chain.operation, rate_mb_s=chain.rate_mb_s, stages=stages)


def power_of(found: Assessment) -> PowerTable:
    """Return the power by part and state."""
    return power_table(found.machine, found.busy_mixes)


def risk_block(found: Assessment) -> Risk | None:
    """Return the chances of losing data."""
    return risk_of(found.machine)


def currents_block(found: Assessment) -> Currents | None:
    """Return the currents of a start."""
    return currents_of(context_of(found))


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceRow:
    """Places of one sort: how many there are, how many are taken."""

    name: str
    used: int
    have: int
    words: str = ""


def place_rows(found: Assessment) -> Iterator[PlaceRow]:
    """Yield ports, bays and slots with their use."""
    machine = found.machine
    wires = machine.build.connections
    if machine.board is not None:
        lost = machine.board.sata_ports - machine.onboard_ports
        words = f"{lost} lost to shared slots" if lost else ""
        used = sum(wire.host == BOARD for wire in wires)
        yield PlaceRow(
            name="ports of the board",
            used=used,
            have=machine.onboard_ports,
            words=words,
        )
    for name, card in machine.cards.items():
        part = card.item.part
        if isinstance(part, Controller):
            used = sum(wire.host == name for wire in wires)
            words = "behind a multiplier" if part.is_multiplied else ""
            yield PlaceRow(
                name=f"ports of {clean(name)}",
                used=used,
                have=part.n_ports,
                words=words,
            )
    yield from _bay_rows(found)
    yield from _slot_rows(found)


def _bay_rows(found: Assessment) -> Iterator[PlaceRow]:
    chassis = found.machine.chassis
    if chassis is None:
        return
    bays = [wire.bay for wire in found.build.connections]
    for size, have in (("3.5", chassis.bays_35), ("2.5", chassis.bays_25)):
        used = sum(bay.startswith(size) for bay in bays)
        if have or used:
            yield PlaceRow(name=f"bays of {size} inch", used=used, have=have)


def _slot_rows(found: Assessment) -> Iterator[PlaceRow]:
    machine = found.machine
    board = machine.board
    if board is None:
        return
    if machine.processor is not None:
        taken = [
            slot.lanes
            for name, slot in machine.slots.items()
            if name in machine.used_slots and slot.uplink == "cpu"
        ]
        have = machine.processor.cpu_lanes
        yield PlaceRow(name="lanes of the processor", used=sum(taken), have=have)
    by_slot = {use.slot: use for use in machine.build.slots}
    for slot in board.slots:
        left = machine.slots[slot.name]
        use = by_slot.get(slot.name)
        form = "M.2 socket" if slot.form == "m2" else "slot"
        words = f"x{left.lanes} Gen{left.generation}, {slot.uplink}"
        if left.lanes != slot.lanes:
            words += f" (x{slot.lanes} before sharing)"
        if use is not None:
            words += f": {clean(use.name)}{_trained_words(found, use.key, slot.name)}"
        yield PlaceRow(
            name=f"{form} {clean(slot.name)}",
            used=int(use is not None),
            have=1,
            words=words,
        )


def _trained_words(found: Assessment, key: str, slot_name: str) -> str:
    part = found.build.item(key).part
    slot = found.machine.slots[slot_name]
    if not isinstance(part, Card) or not slot.lanes:
        return ""
    generation, lanes = trained(part, slot)
    return f", runs at x{lanes} Gen{generation}"

"""Cutting off what no power tree carries.

A solution counts supplies, adapters and drives. Where they cannot be hung so that all
edges carry their load, neither can any that have heavier drives, fewer adapters or a
supply that is no better: all of them are cut off at once, as far as that is proven by
the same search for a tree that the build is made with.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from optibox.build import Item
from optibox.catalog.platform import Chassis, PowerLead, PowerSupply
from optibox.catalog.storage import BootMedium, Drive, HardDrive
from optibox.machine import DriveView, Machine
from optibox.machine.bays import needs_port
from optibox.model.decode import NoPowerError
from optibox.model.draft import Draft
from optibox.model.rows_plugs import may_stagger
from optibox.model.solver import Expression, total
from optibox.wiring.amperes import Draw
from optibox.wiring.loads import (
    Ends,
    Giver,
    Load,
    draw_of,
    ends_of,
    is_fed,
    piece_of,
    supply_leads,
)
from optibox.wiring.seat import GaveUpError, seated

PATIENCE = 800
"""States looked at to show that a cut holds; a cut that takes more is not made."""
HOST = "any"
MORE = 3
"""So many more pieces of an adapter are tried to see whether it helps at all."""


@dataclass(frozen=True, slots=True)
class _Kind:
    """What of a drive its plug feels."""

    peak_12v_a: float
    run_12v_a: float
    run_5v_a: float
    is_held: bool

    def covers(self, other: "_Kind") -> bool:
        """Return whether a drive asks no less of its plug than another."""
        return (
            self.peak_12v_a >= other.peak_12v_a
            and self.run_12v_a >= other.run_12v_a
            and self.run_5v_a >= other.run_5v_a
            and self.is_held >= other.is_held
        )

    @property
    def weight(self) -> tuple[float, float, float, bool]:
        """Return by what kinds are ordered."""
        return self.peak_12v_a, self.run_12v_a, self.run_5v_a, self.is_held


def kind_of(part: Drive | BootMedium) -> _Kind:
    """Return what a drive's plug feels of it."""
    draw = draw_of(part, "", "")
    held = isinstance(part, HardDrive) and part.has_power_disable == "yes"
    peak = draw.run_12v_a + draw.rise_12v_a
    return _Kind(peak, draw.run_12v_a, draw.run_5v_a, held)


def cut_off(draft: Draft, refusal: NoPowerError) -> str:
    """Cut a refused solution off with all that fail for the same reason.

    Returns
    -------
    str
        ``tightened`` where a row was added; ``exclude`` where the solution alone is to
        be cut off; ``open`` where it may be fit if wired in another way.
    """
    machine = refusal.machine
    if not refusal.is_certain:
        return "open"
    case = _Case.of(draft, machine)
    others = () if case.is_fed else case.others
    if case.fails(case.kinds, others, case.pieces) is not True:
        # hosts that start drives in turn, or another choice of drives, might do
        return "open"
    if case.is_fed:
        return "exclude"
    _Cut(draft, case).make()
    return "tightened"


@dataclass(frozen=True, slots=True)
class _Case:
    """A refused machine, taken as kindly as its counts allow."""

    machine: Machine
    ends: Ends
    kinds: tuple[_Kind, ...]
    """Array drives on plugs of their own, heavy ones first."""
    others: tuple[_Kind, ...]
    """Other drives on plugs of their own."""
    inlets: tuple[Load, ...]
    pieces: Counter[str]
    parts: dict[str, Item]
    in_turn: bool

    @classmethod
    def of(cls, draft: Draft, machine: Machine) -> "_Case":
        stagger = may_stagger(draft)
        in_turn = stagger is None or bool(stagger.terms)
        bare = [d for d in machine.drives if needs_port(d) and not _is_fed(machine, d)]
        array = [d for d in machine.array if needs_port(d)]
        n_bare = sum(d in bare for d in array)
        light = sorted((kind_of(d.part) for d in array), key=lambda k: k.weight)
        others = tuple(kind_of(d.part) for d in bare if d not in array)
        ends = ends_of(machine)
        inlets = tuple(x for x in ends.loads if x.name.startswith("backplane"))
        kinds = light
        if inlets:
            # small drives may take the place of any on the backplane
            n_small = sum(needs_port(d) for d in machine.drives) - len(array)
            n_behind = max(0, len(array) - n_bare - n_small)
            inlets = _lightest(inlets, light[:n_behind])
            kinds = light[: max(0, n_bare - n_small)]
        counts = Counter(
            {e.item.key: e.count for e in machine.build.items if _is_lead(e.item)}
        )
        parts = {item.key: item for item in draft.of(PowerLead)}
        heavy = tuple(reversed(kinds))
        return cls(machine, ends, heavy, others, inlets, counts, parts, in_turn)

    @property
    def is_fed(self) -> bool:
        """Return whether a backplane is fed: which drives sit on it is a choice."""
        return bool(self.inlets)

    def fails(
        self,
        kinds: Sequence[_Kind],
        others: Sequence[_Kind],
        pieces: Counter[str],
    ) -> bool | None:
        """Return whether nothing carries this; nothing where that is not known."""
        host = HOST if self.in_turn else ""
        loads = [_load(n, kind, host) for n, kind in enumerate([*kinds, *others])]
        givers = [
            piece_of(
                self.parts[key].part_as(PowerLead),
                key,
                f"{key}-{number}",
                self.machine.factors,
            )
            for key, count in pieces.items()
            for number in range(count)
        ]
        group = 1 + self.machine.operation.n_parity
        ends = replace(
            self.ends,
            pieces=tuple(givers),
            loads=(*loads, *self.inlets),
            groups={HOST: group} if self.in_turn else {},
        )
        try:
            return seated(ends, PATIENCE) is None
        except GaveUpError:
            return None


def _is_lead(item: Item) -> bool:
    return isinstance(item.part, PowerLead)


def _is_fed(machine: Machine, drive: DriveView) -> bool:
    wire = drive.connection
    return wire is not None and is_fed(machine.chassis, wire.bay)


def _lightest(inlets: tuple[Load, ...], kinds: list[_Kind]) -> tuple[Load, ...]:
    """Return the inlets with the lightest drives that may be behind them, all on one host."""
    share = 1.0 / len(inlets)
    found = []
    for inlet in inlets:
        fans = tuple(draw for draw in inlet.draws if draw.name == "fans")
        draws = tuple(_draw(f"b{n}", kind, HOST, share) for n, kind in enumerate(kinds))
        found.append(replace(inlet, draws=(*draws, *fans), held=(), doubtful=()))
    return tuple(found)


def _draw(name: str, kind: _Kind, host: str, share: float = 1.0) -> Draw:
    return Draw(
        name=name,
        host=host,
        run_12v_a=kind.run_12v_a,
        rise_12v_a=kind.peak_12v_a - kind.run_12v_a,
        run_5v_a=kind.run_5v_a,
        share=share,
    )


def _load(number: int, kind: _Kind, host: str) -> Load:
    name = f"drive-{number}"
    held = (name,) if kind.is_held else ()
    return Load(name=name, plug="sata", draws=(_draw(name, kind, host),), held=held)


class _Cut:
    """A row that a refused solution breaks, with all that are no better."""

    def __init__(self, draft: Draft, case: _Case) -> None:
        self.draft, self.case = draft, case
        self.kinds = list(case.kinds)
        self.others = case.others
        self.pieces = Counter(case.pieces)
        self.escape = Expression()
        """At least 1 for solutions that have something which this one lacks."""

    def fails(self, kinds: Sequence[_Kind], pieces: Counter[str]) -> bool:
        """Return whether it is proven that nothing carries so many drives."""
        return self.case.fails(kinds, self.others, pieces) is True

    def make(self) -> None:
        """Widen the reason for the refusal as far as it goes, and forbid it."""
        self._platform()
        if self.case.fails(self.kinds, (), self.pieces) is True:
            self.others = ()
        else:
            self.escape.plus(_other_boots(self.draft, self.case))
        for key in self.case.parts:
            self._adapter(key)
        while len(self.kinds) > 1 and self.fails(self.kinds[:-1], self.pieces):
            self.kinds.pop()
        of_key = {
            key: kind_of(self.draft.by_key[key].part_as(HardDrive))
            for key, _ in self.draft.drives
        }
        if not self._fewer_alike(of_key):
            self._fewer_of_some(of_key)

    def _platform(self) -> None:
        """Let better supplies and fed backplanes escape."""
        supply = self.case.machine.supply
        for item in self.draft.of(PowerSupply):
            part = item.part_as(PowerSupply)
            if supply is None or not _is_no_better(self.draft, part, supply):
                self.escape.plus(self.draft.loose[item.key])
        for item in self.draft.of(Chassis):
            if item.part_as(Chassis).backplane_power:
                self.escape.plus(self.draft.loose[item.key])

    def _adapter(self, key: str) -> None:
        """Let more pieces of an adapter escape, unless they help nothing."""
        program = self.draft.program
        most = int(program.columns[f"n {key}"][1] or 0)
        pieces, n_more = self.pieces, min(MORE, most - self.pieces[key])
        more = pieces + Counter({key: n_more})
        if n_more > 0 and self.fails(self.kinds, more):
            self.pieces = pieces = more
        if pieces[key] < most:
            up = program.variable(f"more {len(program.columns)} {key}", 1.0)
            row = self.draft.loose[key].copy().plus(up, -float(pieces[key] + 1))
            program.require("power_cut", row, ">=", 0.0)
            self.escape.plus(up)

    def _fewer_alike(self, of_key: dict[str, _Kind]) -> bool:
        """Allow fewer of all drives that are no lighter than some, if that is proven."""
        for least in sorted(set(of_key.values()), key=lambda kind: kind.weight):
            n_here = sum(kind.covers(least) for kind in self.case.kinds)
            alike = [least] * len(self.kinds)
            if n_here >= len(alike) and self.fails(alike, self.pieces):
                keys = [key for key, kind in of_key.items() if kind.covers(least)]
                row = _count(self.draft, keys).plus(self.escape, -self._most)
                self._require(row, len(alike) - 1.0)
                return True
        return False

    def _fewer_of_some(self, of_key: dict[str, _Kind]) -> None:
        """Allow fewer of the drives that are no lighter than one of those that fail."""
        program, left, fewer = self.draft.program, dict(of_key), Expression()
        for kind, count in Counter(self.kinds).items():
            keys = [key for key, other in left.items() if other.covers(kind)]
            for key in keys:
                del left[key]
            flag = program.variable(f"fewer {len(program.columns)}", 1.0)
            row = _count(self.draft, keys).plus(flag, self._most)
            self._require(row, self._most + count - 1.0)
            fewer.plus(flag)
        program.require("power_cut", fewer.plus(self.escape), ">=", 1.0)

    def _require(self, row: Expression, most: float) -> None:
        self.draft.program.require("power_cut", row, "<=", most)

    @property
    def _most(self) -> float:
        return float(self.draft.entry.storage.n_array)


def _count(draft: Draft, keys: Sequence[str]) -> Expression:
    return total(
        (count, 1.0) for (key, _), count in draft.drives.items() if key in keys
    )


def _other_boots(draft: Draft, case: _Case) -> Expression:
    """Return the boot media that ask less of plugs than the one that is there."""
    mine = [d for d in case.machine.drives if d.role == "boot" and needs_port(d)]
    found = Expression()
    for item in draft.of(BootMedium):
        part = item.part_as(BootMedium)
        heavy = part.interface == "sata" and mine
        if not heavy or not kind_of(part).covers(kind_of(mine[0].part)):
            found.plus(draft.count(item))
    return found


def _is_no_better(draft: Draft, other: PowerSupply, than: PowerSupply) -> bool:
    """Return whether each lead of a supply has one of another that does no less."""
    factors = draft.entry.scenario.overrides
    left = sorted(supply_leads(than, factors), key=lambda x: x.n_plugs)
    for lead in sorted(supply_leads(other, factors), key=lambda x: -x.n_plugs):
        better = [giver for giver in left if _does_no_less(giver, lead)]
        if not better:
            return False
        left.remove(better[-1])
    return True


def _does_no_less(giver: Giver, other: Giver) -> bool:
    return (
        giver.gives == other.gives
        and giver.n_plugs >= other.n_plugs
        and giver.most_a >= other.most_a
        and giver.ohm <= other.ohm
        and giver.has_3v3 <= other.has_3v3
    )

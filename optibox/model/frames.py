"""Frames: board, chassis and supply taken together, as columns.

Most of what ties a machine together mechanically and electrically runs between these
three. Every triple that fits is one row; an entry of the menu adds what its drives
want, and gets the least cost of each triple in a few array operations.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt

from optibox.build import Item
from optibox.catalog.attachment import NetworkLead
from optibox.catalog.columns import Part
from optibox.catalog.platform import (
    Board,
    Chassis,
    Memory,
    PowerSupply,
)
from optibox.catalog.storage import BootMedium, HardDrive
from optibox.figures.power import ALL_ACTIVE, base_12v_a, part_dc_w
from optibox.model.bays import Bays
from optibox.model.kept import Kept
from optibox.model.kin import Kin, absent, kin_of
from optibox.model.load import Load, squares, times, whole
from optibox.model.platform_bounds import Platforms, Wants
from optibox.model.processor_bounds import idle_of_processor_w, processors_of, work_w
from optibox.model.slot_bounds import NOTHING, SHOWS, Forced, keys_of
from optibox.model.small_parts import (
    plug_prices,
    postage_of,
    served_elsewhere,
)

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
INF = float("inf")
MOST_STANDINGS = 50
"""Wants whose standing costs are kept at a time."""


@dataclass(frozen=True, kw_only=True)
class Frames:
    """Every triple of board, chassis and supply that fits together."""

    platforms: Platforms
    only: Item | None = None
    """A board: then it alone, with every chassis and supply apart. Else boards, chassis
    and supplies that differ in price and watts alone are one, with the least of each
    cost: what they bound is a little lower, and their number does not grow."""

    @cached_property
    def board_kin(self) -> tuple[Kin, ...]:
        """Return the boards that are told apart, each with its kin."""
        return ((self.only,),) if self.only else self._kin(Board)

    @cached_property
    def chassis_kin(self) -> tuple[Kin, ...]:
        """Return the chassis that are told apart, each with its kin."""
        return self._kin(Chassis)

    @cached_property
    def supply_kin(self) -> tuple[Kin, ...]:
        """Return the supplies that are told apart, each with its kin."""
        return self._kin(PowerSupply)

    def _kin(self, record: type[Part]) -> tuple[Kin, ...]:
        items = self.platforms.offers.of(record)
        if self.only:
            return tuple((item,) for item in items)
        return kin_of(items, self.platforms.in_boxes)

    @cached_property
    def boards(self) -> tuple[Item, ...]:
        """Return a board of each kin, the one that loses least where idle is shallow."""
        return tuple(
            min(kin, key=lambda i: _board(i).deep_idle_loss_w.mid)
            for kin in self.board_kin
        )

    @cached_property
    def chassis(self) -> tuple[Item, ...]:
        """Return a chassis of each kin."""
        return tuple(kin[0] for kin in self.chassis_kin)

    @cached_property
    def supplies(self) -> tuple[Item, ...]:
        """Return a supply of each kin."""
        return tuple(kin[0] for kin in self.supply_kin)

    @cached_property
    def rows(self) -> Ints:
        """Return the indices of board, chassis and supply, shape (n_rows, 3)."""
        found = []
        for b, board in enumerate(self.boards):
            plugs = {item.key for item in self.platforms.supplies(_board(board))}
            for c, chassis in enumerate(self.chassis):
                part = _chassis(chassis)
                if _board(board).form not in part.board_forms:
                    continue
                found += [
                    (b, c, s)
                    for s, supply in enumerate(self.supplies)
                    if supply.key in plugs and np.isfinite(self._plates[c][s])
                ]
        return np.array(found, dtype=np.int64).reshape(-1, 3)

    @cached_property
    def _plates(self) -> list[list[float]]:
        """Return the cost of fitting each supply into each chassis."""
        return [
            [self.platforms.plate_cost(_chassis(c), _supply(s)) for s in self.supplies]
            for c in self.chassis
        ]

    def _by(self, column: int, values: list[float]) -> Floats:
        return np.array(values, dtype=float)[self.rows[:, column]]

    def _least(self, column: int, figure: Callable[[Item], float]) -> Floats:
        """Return the least of a figure over the kin of each row's item."""
        kin = (self.board_kin, self.chassis_kin, self.supply_kin)[column]
        return self._by(column, [min(map(figure, group)) for group in kin])

    @cached_property
    def fixed_cost(self) -> Floats:
        """Return the cost of each triple that no entry changes, shape (n_rows,)."""
        costs = self.platforms.costs
        cost = self._least(0, lambda b: costs[b.key])
        cost += self._least(1, lambda c: costs[c.key])
        cost += self._least(2, self._supply_fixed)
        plates = np.array(self._plates)[self.rows[:, 1], self.rows[:, 2]]
        fixed: Floats = cost + plates
        return fixed

    def _supply_fixed(self, item: Item) -> float:
        weights = self.platforms.weights
        price = 0.0 if item.key in self.platforms.in_boxes else weights.price(item)
        fixed = self.platforms.watt_weight * _supply(item).loss_fixed_w.mid
        return price + weights.piece(item) + fixed

    def _memory(self, forced: Forced) -> Floats:
        """Return the least cost of memory, shape (n_forced, n_rows)."""
        return self._of_boards(
            [self.platforms.memory(_board(b), forced) for b in self.boards]
        )

    def _of_boards(self, values: Sequence[Floats]) -> Floats:
        """Return values of boards, each of shape (n_forced,), by row."""
        found: Floats = np.array(values).T[:, self.rows[:, 0]]
        return found

    def _is_there(self, forced: Forced) -> Floats:
        """Return 0, or infinity where a row has not the frame's part that is forced.

        Shape (n_forced, n_rows).
        """
        kinds = (self.board_kin, self.chassis_kin, self.supply_kin)
        return absent(forced, (Board, Chassis, PowerSupply), kinds, self.rows)

    def processor_cost(
        self,
        least_mb_s: float,
        forced: Forced = NOTHING,
        *,
        with_graphics: bool = False,
    ) -> Floats:
        """Return the least cost of processor and cooler, shape (n_forced, n_rows).

        Those count that move so much over the network, and show the firmware if asked;
        infinite where none does.
        """
        key = (least_mb_s, keys_of(forced), with_graphics)
        return self._processor_costs.get(
            key,
            lambda: self._processors(least_mb_s, forced, with_graphics=with_graphics),
        )

    @cached_property
    def _processor_costs(self) -> Kept[Floats]:
        return Kept(MOST_STANDINGS)

    def _processors(
        self, least_mb_s: float, forced: Forced, *, with_graphics: bool
    ) -> Floats:
        clearances = [_chassis(c).cooler_clearance_mm for c in self.chassis]
        heights, place = np.unique(clearances, return_inverse=True)
        table = np.stack(
            [
                processors_of(
                    self.platforms,
                    _board(board),
                    (least_mb_s, with_graphics),
                    heights,
                    forced,
                )
                for board in self.boards
            ],
            axis=1,
        )
        found: Floats = table[:, self.rows[:, 0], place[self.rows[:, 1]]]
        return found

    @cached_property
    def idle_dc_w(self) -> Floats:
        """Return the least watts of each triple without drives. [W]."""
        watts = self._least(
            0,
            lambda b: (
                _board(b).idle_w.mid + idle_of_processor_w(self.platforms, _board(b))
            ),
        )
        return watts + self._least(1, lambda c: c.part.idle_dc_w)

    @cached_property
    def work_dc_w(self) -> Floats:
        """Return what the processor side draws more while it works, at least. [W]."""
        return self._least(0, lambda b: work_w(self.platforms, _board(b)))

    @cached_property
    def _above_of_supplies(self) -> Floats:
        least = self.platforms.slope - 1.0
        return np.array(
            [
                min(_supply(s).loss_share.mid - least for s in kin)
                for kin in self.supply_kin
            ]
        )

    @cached_property
    def above(self) -> Floats:
        """Return how much each supply's slope is above the least."""
        found: Floats = self._above_of_supplies[self.rows[:, 2]]
        return found

    @cached_property
    def square(self) -> Floats:
        """Return each supply's square-law loss per squared watt. [1/W]."""
        return self._least(
            2, lambda s: _supply(s).loss_square.mid / _supply(s).rated_w.mid
        )

    @cached_property
    def _bays(self) -> Bays:
        """Return the different bays of chassis, and what drives in them cost."""
        bays = [self._bays_of(_chassis(c)) for c in self.chassis]
        kinds = sorted(set(bays))
        index = np.array([kinds.index(one) for one in bays], dtype=np.int64)
        return Bays(
            kinds=kinds,
            kind_of_row=index[self.rows[:, 1]],
            adapter_price=self.platforms.adapter_price(),
        )

    def _bays_of(self, chassis: Chassis) -> tuple[int, int, int]:
        """Return 3.5 and 2.5 inch bays of a chassis, and the class of the latter."""
        heights = self.platforms.bay_heights_mm
        if not chassis.bays_25:
            return chassis.bays_35, 0, len(heights) - 1
        number = heights.index(chassis.bay_25_height_mm)
        return chassis.bays_35, chassis.bays_25, number

    @cached_property
    def fed_bays(self) -> Floats:
        """Return the bays that a powered backplane feeds."""
        return self._by(
            1,
            [
                float(
                    _chassis(c).bays_on_backplane if _chassis(c).backplane_power else 0
                )
                for c in self.chassis
            ],
        )

    def _boxed(self, n_drives: int) -> Floats:
        """Return the drives that cables from boxes, not of controllers, serve at most."""
        if n_drives in self._boxes:
            return self._boxes[n_drives]
        served = self.platforms.cables_in_box
        found = self._by(0, [served(i) for i in self.boards])
        found += self._by(1, [served(i) for i in self.chassis])
        found += self._by(2, [served(i) for i in self.supplies])
        found = found + served_elsewhere(self.platforms, n_drives)
        self._boxes[n_drives] = found
        return found

    @cached_property
    def _boxes(self) -> dict[int, Floats]:
        return {}

    def _short(self, plug: str) -> Floats:
        """Return the inlets less the plugs of a type, drives not counted."""

        def inlets(item: Item) -> float:
            return float(
                sum(x.count for x in _chassis(item).backplane_power if x.plug == plug)
            )

        def plugs(item: Item) -> float:
            return float(sum(x.count for x in _supply(item).leads if x.plug == plug))

        short = self._by(1, [inlets(c) for c in self.chassis])
        short -= self._by(2, [plugs(s) for s in self.supplies])
        if plug == "sata":
            short -= self._by(0, [float(_board(b).dc_sata_plugs) for b in self.boards])
        return short

    @cached_property
    def _shortages(self) -> tuple[Floats, Floats]:
        return self._short("sata"), self._short("peripheral")

    @cached_property
    def _plug_prices(self) -> tuple[Floats, Floats]:
        """Return the least price of n more plugs of each type, n from 0 on."""
        return (
            plug_prices(self.platforms, "sata"),
            plug_prices(self.platforms, "peripheral"),
        )

    @cached_property
    def _postage(self) -> Floats:
        """Return the postage of the sellers that a triple's own parts come from."""
        return self._postage_of(set(self.platforms.offers.catalog.postage))

    @cached_property
    def _postage_beside_drives(self) -> Floats:
        """Return the postage of sellers of a triple's parts that sell no drives."""
        sellers = {i.part.seller for i in self.platforms.offers.of(HardDrive)}
        return self._postage_of(set(self.platforms.offers.catalog.postage) - sellers)

    def _postage_of(self, sellers: set[str]) -> Floats:
        kinds = (self.boards, self.chassis, self.supplies)
        return postage_of(self.platforms, kinds, self.rows, sellers)

    def bound(self, load: Load) -> Floats:
        """Return the least cost of each triple with an entry's drives, shape (n_rows,)."""
        found: Floats = self.bounds(load)[0]
        return found

    def bounds(self, load: Load, forced: Forced = NOTHING) -> Floats:
        """Return the least cost of each triple, with one of each forced item in it.

        Shape (n_forced or n_sets, n_rows). This is the only place where costs of a
        frame are added up, whatever is forced: each summand is made by one function
        that knows what an item costs and what it brings, so that whatever is asked of
        a frame is asked of it with the item, too, and met by the item where it can.

        Plugs that are short and drives' own leads could be the same pieces, postage of
        a triple and of its drives the same parcel: each bound counts one of both.

        Parameters
        ----------
        load : Load
            What an entry puts on a frame; its drives may be of several sorts of sets.
        forced : tuple of Item
            Items of which one each is in the build, or nothing; of kinds that have no
            summand here (drives, cables, adapters) the bound is that of nothing.
        """
        if not len(self.rows) or not forced:
            n_forced = max(len(forced), load.drives.shape[2]) if forced else 0
            return np.zeros((n_forced, len(self.rows)))
        standing, plugs = self._standing(load.wants, forced)
        value = standing + self._energy(load)
        most = self._most_wide(load)

        def ways(costs: Floats, abilities: frozenset[str] = frozenset()) -> Floats:
            return self._ways(load, costs, most, abilities, forced)

        plain = value + plugs + self._postage + ways(load.drives[0])
        if len(load.drives) > 2:
            post, lead = ways(load.drives[1]), ways(load.drives[2])
            own = np.where(self._is_unclean, lead, post + plugs)
            plain = np.maximum(plain, value + self._postage_beside_drives + own)
        if not self._may_speak_sas(load, forced):
            return plain
        # drives that speak SAS want a controller that does
        sas = ways(load.drives[-1], _SAS)
        return np.minimum(plain, value + plugs + self._postage + sas)

    def _may_speak_sas(self, load: Load, forced: Forced) -> bool:
        """Return whether sets with SAS drives could be cheaper, card included."""
        sets, others = load.drives[-1], load.drives[:-1].max(axis=0)
        if not np.isfinite(sets).any():
            return False
        low, high = (self.core(load.wants, asked, forced) for asked in (_ANY, _SAS))
        known = np.isfinite(low) & np.isfinite(high)
        more = float((high[known] - low[known]).min(initial=INF))
        # a board that has no place for other cards may have one for this
        if (np.isfinite(high) & ~known).any():
            more = 0.0
        return bool((np.isfinite(sets) & (sets + more < others)).any())

    def _most_wide(self, load: Load) -> Floats | None:
        """Return how many wide drives each triple can start at once, if that binds."""
        starts = load.starts
        if starts is None:
            return None
        most = starts.most_large(self._free_a, self._free_w - load.cache_w)
        return None if (most >= starts.n).all() else most

    def _standing(self, wants: Wants, forced: Forced) -> tuple[Floats, Floats]:
        """Return what is there whatever drives hang on it, and plugs for so many."""

        def made() -> tuple[Floats, Floats]:
            platforms = self.platforms
            loose = platforms.boot(forced) + platforms.lead(
                wants.network_gbit_s, forced
            )
            value = self.fixed_cost + self._memory(forced) + loose[:, None]
            value += self._is_there(forced)
            sata, peripheral = self._shortages
            bare = np.maximum(0.0, wants.n_ports - self.fed_bays)
            prices = self._plug_prices
            value += prices[1][whole(peripheral)]
            return value, prices[0][whole(sata + bare)]

        return self._standings.get((wants, keys_of(forced)), made)

    @cached_property
    def _standings(self) -> Kept[tuple[Floats, Floats]]:
        return Kept(MOST_STANDINGS)

    def core(
        self, wants: Wants, abilities: frozenset[str], forced: Forced = NOTHING
    ) -> Floats:
        """Return the least cost of processor, cards and cables together.

        Shape (n_forced, n_rows). Cards have some abilities; a processor without
        graphics on a board that shows nothing wants a display card beside it.
        """

        def made() -> Floats:
            least_mb_s = wants.network_mb_s
            plain = self.processor_cost(least_mb_s, forced)
            cabled = self._cabled(wants, abilities, forced)
            shows = np.array([self.platforms.shows(_board(b)) for b in self.boards])
            if shows.all():
                return plain + cabled
            seeing = self.processor_cost(least_mb_s, forced, with_graphics=True)
            shown = self._cabled(wants, abilities | {SHOWS}, forced)
            other = np.minimum(seeing + cabled, plain + shown)
            return np.where(shows[self.rows[:, 0]], plain + cabled, other)

        key = (replace(wants, n_bays=0), abilities, keys_of(forced))
        return self._cores.get(key, made)

    @cached_property
    def _cores(self) -> Kept[Floats]:
        return Kept(4 * MOST_STANDINGS)

    def _cabled(
        self, wants: Wants, abilities: frozenset[str], forced: Forced
    ) -> Floats:
        """Return the least cost of cards and data cables, shape (n_forced, n_rows).

        What is in boxes is not bought. That holds for controllers as well: either
        their own prices bound the sum, or those less the cables in their boxes with
        the cables that are wanted.
        """
        cards = [
            self.platforms.cards(_board(b), wants, abilities, forced)
            for b in self.boards
        ]
        as_is, less_cables = (
            self._of_boards([one[number] for one in cards]) for number in (0, 1)
        )
        bare = np.maximum(0.0, wants.n_ports - self._boxed(wants.n_ports))
        cabled = less_cables + times(bare, self.platforms.cable_price)
        return np.maximum(as_is, cabled)

    def _ways(
        self,
        load: Load,
        costs: Floats,
        most: Floats | None,
        abilities: frozenset[str],
        forced: Forced,
    ) -> Floats:
        """Return the least of drives and core: all starting at once, or in turn.

        To start in turn, board or controllers must be able to. ``most`` is how many
        wide drives may start at once.
        """
        drives = self._drives(costs, load.n_small)
        core = self.core(load.wants, abilities, forced)
        if most is None or load.starts is None:
            return drives + core
        # wide drives are told by what they draw only where tall ones are none of them
        few = self._drives(costs[..., -1:, :], load.n_small, most)
        at_once = np.maximum(drives, few) + core
        if load.starts.is_together:
            return at_once
        able = self.core(load.wants, abilities | _IN_TURN, forced)
        in_turn = drives + np.where(self._in_turn, core, able)
        return np.minimum(at_once, in_turn)

    @cached_property
    def _in_turn(self) -> npt.NDArray[np.bool_]:
        able = [float(_board(b).has_staggered_spin_up) for b in self.boards]
        found: npt.NDArray[np.bool_] = self._by(0, able) > 0
        return found

    @cached_property
    def _free_a(self) -> Floats:
        """Return what each triple's 12 V rail has left for drives. [A]."""
        free = self._by(2, [_supply(s).rail_12v_a.mid for s in self.supplies])
        free = free - self._least(0, lambda b: base_12v_a(b.part))
        free = free - self._least(1, lambda c: base_12v_a(c.part))
        return free - self.platforms.least_of(Memory, base_12v_a)

    @cached_property
    def _free_w(self) -> Floats:
        """Return what each triple's rating has left for drives. [W]."""
        rated = self._by(2, [_supply(s).rated_w.mid for s in self.supplies])
        others = sum(self.platforms.least_of(kind, _busy_w) for kind in _ALWAYS)
        return rated - self.idle_dc_w - self.work_dc_w - others

    @cached_property
    def _is_unclean(self) -> npt.NDArray[np.bool_]:
        """Return the triples without any plug that carries no 3.3 V."""
        clean = self._by(0, [float(_board(b).dc_sata_plugs > 0) for b in self.boards])
        clean += self._by(
            1, [float(bool(_chassis(c).backplane_power)) for c in self.chassis]
        )
        clean += self._by(2, [float(not _supply(s).carries_3v3) for s in self.supplies])
        unclean: npt.NDArray[np.bool_] = clean == 0
        return unclean

    def _drives(
        self, costs: Floats, n_small: int, most: Floats | None = None
    ) -> Floats:
        """Return the drives' cost at each supply's slope: on or above the chord.

        At most so many of them are wide, where that is said.

        The least cost of any set is linear in the slope, so the least over sets is
        concave: between two slopes it lies on or above the straight line.
        """
        bays, n_array = self._bays, costs.shape[-1] - 1
        low, high = (bays.table(c, n_small)[..., None] for c in costs)
        width = self.platforms.steepest - self.platforms.slope
        share = self._above_of_supplies / (width if width > 0 else 1.0)
        with np.errstate(invalid="ignore"):
            chord = np.where(np.isfinite(high), low + (high - low) * share, low)
        column = n_array + 1 if most is None else bays.column(most, n_array)
        found: Floats = chord[:, bays.kind_of_row, column, self.rows[:, 2]]
        return found

    def _energy(self, load: Load) -> Floats:
        """Return what the processor's work and the supply's curve add."""
        work = load.processor_weight * self.platforms.slope * self.work_dc_w
        idle, place = self._idles
        least: Floats = np.minimum.reduce(
            [squares(weights, watts, idle) for weights, watts in load.modes]
        )
        found: Floats = work + self._above_energy + self.square * least[place]
        return found

    @cached_property
    def _above_energy(self) -> Floats:
        """Return what the idle watts cost at each supply's slope above the least."""
        above: Floats = self.platforms.watt_weight * self.above * self.idle_dc_w
        return above

    @cached_property
    def _idles(self) -> tuple[Floats, Ints]:
        """Return the different idle watts of triples, and the place of each in them."""
        idle, place = np.unique(self.idle_dc_w, return_inverse=True)
        return idle, place.astype(np.int64)


_ANY: frozenset[str] = frozenset()
_SAS = frozenset(("speaks_sas",))
_IN_TURN = frozenset(("has_staggered_spin_up",))
WAYS = (_ANY, _SAS, _IN_TURN, _SAS | _IN_TURN)
"""What some controller must be able to do: nothing, or what drives ask of it."""

_ALWAYS = (Memory, BootMedium, NetworkLead)
"""Kinds that every build has a piece of, beside board, chassis and supply."""


def _busy_w(part: Part) -> float:
    return part_dc_w(part, ALL_ACTIVE)


def _board(item: Item) -> Board:
    return item.part_as(Board)


def _chassis(item: Item) -> Chassis:
    return item.part_as(Chassis)


def _supply(item: Item) -> PowerSupply:
    return item.part_as(PowerSupply)

"""Rows: what shared links carry at the needed rates.

The factors are those of ``optibox.figures.loads``: one MB for the target drive, one
for each parity drive, and so on. A row is written only where it can bind.
"""

from dataclasses import dataclass

from optibox.catalog.attachment import Controller, NetworkCard
from optibox.machine import CHIPSET
from optibox.machine.view import trained
from optibox.model.draft import Berth, Draft, Group
from optibox.model.rows_wiring import on_group
from optibox.model.solver import Expression, total
from optibox.physics.lanes import pcie_planning_mb_s


@dataclass(frozen=True, kw_only=True)
class SharedLink:
    """A link with the groups of ports and the network behind it."""

    name: str
    budget_mb_s: float
    groups: tuple[Group, ...]
    network: Expression
    """1 where the network in use sits behind the link, at least as far as is known."""
    is_half_duplex: bool = False


def shared_links(draft: Draft) -> list[SharedLink]:
    """Return the links that several drives can share."""
    board, factors = draft.board_part, draft.entry.scenario.overrides
    links = []
    if board.chipset_lanes:
        budget = pcie_planning_mb_s(
            board.chipset_generation, board.chipset_lanes, factors.pcie.mid
        )
        behind = tuple(g for g in draft.groups if _is_behind_chipset(draft, g))
        links.append(
            SharedLink(
                name=CHIPSET,
                budget_mb_s=budget,
                groups=behind,
                network=_network_behind_chipset(draft),
            )
        )
    for group in draft.groups:
        if group.berth is None or group.item is None:
            continue
        legs = tuple(
            g for g in draft.groups if (g.host, g.berth) == (group.host, group.berth)
        )
        if legs[0] == group:
            links.append(_slot_link(draft, group, group.berth, legs))
        if group.is_leg and isinstance(group.item.part, Controller):
            share = group.item.part.host_link_gbit_s / 6.0
            links.append(
                SharedLink(
                    name=group.name,
                    budget_mb_s=factors.multiplier_host_mb_s.mid * share,
                    groups=(group,),
                    network=Expression(),
                    is_half_duplex=True,
                )
            )
    return links


def _slot_link(
    draft: Draft, group: Group, berth: Berth, legs: tuple[Group, ...]
) -> SharedLink:
    efficiency = draft.entry.scenario.overrides.pcie.mid
    part = group.item.part if group.item else None
    generation, lanes = trained(part, berth.view)
    budget = pcie_planning_mb_s(generation, lanes, efficiency) if lanes else 0.0
    return SharedLink(
        name=f"slot {group.name}", budget_mb_s=budget, groups=legs, network=Expression()
    )


def _is_behind_chipset(draft: Draft, group: Group) -> bool:
    if group.berth is None:
        return draft.board_part.sata_uplink == "chipset"
    return group.berth.slot.uplink == "chipset"


def _network_behind_chipset(draft: Draft) -> Expression:
    """Return a lower bound on whether the network in use hangs on the chipset.

    The board's own port counts only where no faster card can be chosen.
    """
    board, needs = draft.board_part, draft.entry.scenario.needs
    cards = [
        (item, item.part)
        for item in draft.of(NetworkCard)
        if isinstance(item.part, NetworkCard)
        and item.part.medium == needs.other_end_medium
    ]
    if not cards and board.network_uplink == "chipset":
        return Expression(constant=1.0)
    own = board.network_gbit_s or 0.0
    own_suits = board.network_medium == needs.other_end_medium
    if own_suits and own >= draft.entry.network_gbit_s:
        return Expression()
    keys = {item.key for item, _ in cards}
    behind_cpu = any(
        key in keys and berth.slot.uplink == "cpu" for key, berth in draft.placed
    )
    if behind_cpu:
        return Expression()
    return Expression(constant=1.0)


def links_carry(draft: Draft) -> None:
    """Require of every shared link that it carries the needed rates."""
    for link in shared_links(draft):
        if link.groups:
            _link_carries(draft, link)


def _link_carries(draft: Draft, link: SharedLink) -> None:
    needs, storage = draft.entry.scenario.needs, draft.entry.storage
    data = total((on_group(draft, g, "data"), 1.0) for g in link.groups)
    parity = total((on_group(draft, g, "parity"), 1.0) for g in link.groups)
    write = needs.write_mb_s
    if storage.cache == "none":
        write = max(write, needs.ingest_mb_s)
    up, down = _write_moves(draft, link, data, parity)
    _carry(draft, link, (up.plus(link.network), down), write)
    up, down = _read_moves(draft, link, data)
    _carry(draft, link, (up, down.plus(link.network)), needs.read_mb_s)


def _carry(
    draft: Draft, link: SharedLink, moved: tuple[Expression, Expression], rate: float
) -> None:
    if rate <= 0:
        return
    most = link.budget_mb_s / rate * (1 + 1e-9)
    up, down = moved
    ways = (up.plus(down),) if link.is_half_duplex else (up, down)
    for way in ways:
        if _largest(draft, way) > most:
            draft.program.require("links_carry", way, "<=", most)


def _largest(draft: Draft, expression: Expression) -> float:
    """Return an upper bound of an expression from its variables' bounds."""
    columns = draft.program.columns
    return expression.constant + sum(
        factor * (columns[name][1] or 0.0)
        for name, factor in expression.terms.items()
        if factor > 0
    )


def _is_touched(draft: Draft, link: SharedLink, data: Expression) -> Expression:
    """Return a binary that is 1 wherever a data drive hangs on the link."""
    flag = draft.program.variable(
        f"touched {link.name} {len(draft.program.columns)}", 1.0
    )
    most = -float(draft.entry.storage.n_data)
    draft.program.require("link_touched", data.copy().plus(flag, most), "<=", 0.0)
    return flag


def _write_moves(
    draft: Draft, link: SharedLink, data: Expression, parity: Expression
) -> tuple[Expression, Expression]:
    storage = draft.entry.storage
    n = storage.n_data
    if storage.layout == "striped":
        return Expression(), total([(data, 1.0 / (n - storage.n_parity))])
    if storage.layout == "striped pairs":
        return Expression(), total([(data, 2.0 / n)])
    touched = _is_touched(draft, link, data)
    if storage.layout == "pairs":
        both = draft.program.variable(f"both {link.name}", 1.0)
        row = data.copy().plus(both, -float(n))
        draft.program.require("link_touched", row, "<=", 1.0)
        return Expression(), touched.copy().plus(both)
    down = touched.copy().plus(parity)
    if storage.n_parity == 0:
        return Expression(), down
    if not storage.reconstructs:
        return down.copy(), down
    whole = draft.program.variable(f"all {link.name}", 1.0)
    row = whole.copy()
    row = total([(whole, float(n)), (data, -1.0)])
    draft.program.require("link_touched", row, "<=", 0.0)
    return data.copy().plus(whole, -1.0), down


def _read_moves(
    draft: Draft, link: SharedLink, data: Expression
) -> tuple[Expression, Expression]:
    storage = draft.entry.storage
    n = storage.n_data
    if storage.layout == "striped":
        return total([(data, 1.0 / n)]), Expression()
    if storage.layout == "striped pairs":
        return _half_at_most(draft, link, data, n), Expression()
    return _is_touched(draft, link, data), Expression()


def _half_at_most(
    draft: Draft, link: SharedLink, data: Expression, n: int
) -> Expression:
    """Return the copies read on a link over the pairs: all of its drives, half at most.

    Beyond half of the drives the load stays 1, so that a link which carries the whole
    rate needs no limit.
    """
    needs = draft.entry.scenario.needs
    if link.budget_mb_s >= needs.read_mb_s:
        return Expression()
    return total([(data, 2.0 / n)])

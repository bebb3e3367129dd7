"""Rows: ports, bays, cables, adapters."""

from optibox.catalog.attachment import Cable, Controller
from optibox.catalog.platform import Chassis
from optibox.catalog.storage import BootMedium, DriveAdapter, HardDrive, SolidStateDrive
from optibox.model.draft import (
    Draft,
    Group,
    Shape,
    group_presence,
    make_groups,
    n_connectors,
)
from optibox.model.eligible import least_drive_mb_s
from optibox.model.menu import rate_of
from optibox.model.rows_parts import chosen, rule_in_force
from optibox.model.solver import Expression, total
from optibox.rules.platform import LARGEST_32_BIT_TB
from optibox.rules.wiring import cable_direction

SMALL = Shape("2.5", "sata", is_large=False, is_behind_ok=True)
NO_BAY = Shape("", "sata", is_large=False, is_behind_ok=True)
MULTI = ("sff-8087", "sff-8643")


def shape_of(draft: Draft, key: str) -> Shape:
    """Return the shape of a hard drive item."""
    item = next(i for i in draft.of(HardDrive) if i.key == key)
    part = item.part_as(HardDrive)
    scenario = draft.entry.scenario
    behind = True
    if scenario.choices.allow_multipliers:
        slowed = (
            rate_of(item, scenario) * scenario.overrides.multiplier_single_drive.mid
        )
        behind = slowed >= least_drive_mb_s(draft.entry.storage, scenario)
    return Shape(part.form, part.interface, part.tb > LARGEST_32_BIT_TB, behind)


def drives_on_ports(draft: Draft) -> None:
    """Put every drive that takes a port on a group of ports that takes its shape."""
    make_groups(draft)
    wanted: dict[tuple[str, Shape], Expression] = {}
    for (key, role), count in draft.drives.items():
        wanted.setdefault((role, shape_of(draft, key)), Expression()).plus(count)
    n_cache = sum(
        isinstance(i.part, SolidStateDrive) and i.part.form == "2.5"
        for i in draft.entry.cache
    )
    if n_cache:
        wanted["cache", SMALL] = Expression(constant=float(n_cache))
    for shape, needs_bay in ((SMALL, True), (NO_BAY, False)):
        boots = total(
            (draft.loose[i.key], 1.0)
            for i in draft.of(BootMedium)
            if isinstance(i.part, BootMedium)
            and i.part.interface == "sata"
            and i.part.needs_bay == needs_bay
        )
        if boots.terms:
            wanted["boot", shape] = boots
    for (role, shape), count in wanted.items():
        there = Expression()
        for group in draft.groups:
            if group.takes(shape) and _serves(draft, role, group):
                name = f"y {role} {shape} {group.name}"
                draft.on_port[role, shape, group] = draft.program.variable(
                    name, float(group.n_ports)
                )
                there.plus(draft.on_port[role, shape, group])
        draft.program.require("drives_on_ports", there.plus(count, -1.0), "=", 0.0)


def _serves(draft: Draft, role: str, group: Group) -> bool:
    """Return whether a host's ports let array drives sleep and be exchanged as asked."""
    if role not in ("data", "parity"):
        return True
    part = group.item.part if group.item else draft.board_part
    sleeps = draft.entry.storage.timeout_min is not None
    if sleeps and isinstance(part, Controller) and part.passes_standby == "no":
        return False
    needs_hot_plug = draft.entry.scenario.needs.hot_swap
    return not needs_hot_plug or bool(getattr(part, "has_hot_plug", False))


def on_group(draft: Draft, group: Group, *roles: str) -> Expression:
    """Return the drives of some roles (or all) on a group."""
    return total(
        (count, 1.0)
        for (role, _, other), count in draft.on_port.items()
        if other == group and (not roles or role in roles)
    )


def ports_enough(draft: Draft) -> None:
    """Keep the drives of a group within its ports, less those lost to sharing."""
    board = draft.board_part
    for group in draft.groups:
        used = on_group(draft, group)
        if group.berth is not None:
            here = group_presence(draft, group)
            row = used.copy().plus(here, -float(group.n_ports))
            draft.program.require("ports_enough", row, "<=", 0.0)
            continue
        lost = total(
            (rule_in_force(draft, rule), float(rule.ports_lost))
            for rule in board.sharing
            if rule.ports_lost
        )
        draft.program.require(
            "ports_enough", used.copy().plus(lost), "<=", float(board.sata_ports)
        )


def cables_reach(draft: Draft) -> None:
    """Split each group's drives by where they end, and count pieces of cable."""
    kinds: list[str] = sorted(
        {
            str(c.part.backplane)
            for c in draft.of(Chassis)
            if isinstance(c.part, Chassis) and c.part.backplane in MULTI
        }
    )
    need: dict[tuple[str, str, str], Expression] = {}
    for group in draft.groups:
        most = float(group.n_ports)
        plain = draft.program.variable(f"s {group.name}", most)
        draft.to_plain[group] = plain
        ends = plain.copy()
        for kind in kinds:
            multi = draft.program.variable(f"t {group.name} {kind}", most)
            draft.to_multi[group, kind] = multi
            ends.plus(multi)
        row = on_group(draft, group).plus(ends, -1.0)
        draft.program.require("ends_meet", row, "=", 0.0)
        # what sits in no bay cannot end in a backplane
        loose = total(
            (count, 1.0)
            for (_, shape, other), count in draft.on_port.items()
            if other == group and not shape.form
        )
        if kinds and loose.terms:
            row = loose.plus(plain, -1.0)
            draft.program.require("ends_without_bay", row, "<=", 0.0)
        _pieces(draft, group, kinds, need)
    for (direction, near, far), count in need.items():
        have = _cables(draft, (direction, near, far))
        row = count.copy().plus(have, -1.0)
        draft.program.require("cables_enough", row, "<=", 0.0)


def _cables(draft: Draft, ends: tuple[str, str, str]) -> Expression:
    """Return the cables chosen of a direction with two ends."""
    return total(
        (draft.loose[item.key], 1.0)
        for item in draft.of(Cable)
        if isinstance(item.part, Cable)
        and (item.part.direction, item.part.controller_end, item.part.drive_end) == ends
    )


def _pieces(
    draft: Draft,
    group: Group,
    kinds: list[str],
    need: dict[tuple[str, str, str], Expression],
) -> None:
    """Create the pieces of cable on one group and keep them within its connectors."""
    at_connectors = Expression()
    for far in ["sata", *kinds]:
        drives = draft.to_plain[group] if far == "sata" else draft.to_multi[group, far]
        direction = cable_direction(group.connector, far)
        wanted = need.setdefault((direction, group.connector, far), Expression())
        if direction == "single":
            wanted.plus(drives)
            continue
        most = n_connectors(group) or -(-group.n_ports // 1)
        piece = draft.program.variable(f"c {group.name} {far}", float(most))
        draft.pieces[group, direction, far] = piece
        wanted.plus(piece)
        row = drives.copy().plus(piece, -4.0)
        draft.program.require("four_to_a_piece", row, "<=", 0.0)
        at_connectors.plus(piece)
    if n_connectors(group):
        here = group_presence(draft, group)
        row = at_connectors.plus(here, -float(n_connectors(group)))
        draft.program.require("connectors_enough", row, "<=", 0.0)


def bays_enough(draft: Draft) -> None:
    """Give every drive a bay of its size, adapted where a small one sits in a large."""
    require, program = draft.program.require, draft.program
    large, small = by_width(draft)
    adapted = program.variable("adapted", 64.0)
    draft.adapted = adapted
    bays_25 = bays_of(draft, lambda c: c.bays_25)
    bays_35 = bays_of(draft, lambda c: c.bays_35)
    require("bays_25", small.copy().plus(adapted, -1.0).plus(bays_25, -1.0), "<=", 0.0)
    require("bays_35", large.copy().plus(adapted).plus(bays_35, -1.0), "<=", 0.0)
    require("bays_25", adapted.copy().plus(small, -1.0), "<=", 0.0)
    frames = chosen(draft, DriveAdapter)
    require("adapters_enough", adapted.copy().plus(frames, -1.0), "<=", 0.0)
    for_tray = chosen(draft, DriveAdapter, lambda a: a.fits_tray)  # type: ignore[attr-defined]
    off_tray = bays_of(
        draft,
        lambda c: c.bays_35 - (c.bays_on_backplane if c.tray_holes != "none" else 0),
    )
    row = adapted.copy().plus(for_tray, -1.0).plus(off_tray, -1.0)
    require("adapters_in_trays", row, "<=", 0.0)
    _heights(draft)
    _multi_lane_bays(draft, large.plus(adapted))
    _tray_holes(draft)


def _heights(draft: Draft) -> None:
    """Give high small drives a bay or a frame that takes their height."""
    counts: list[tuple[Expression, float]] = [
        (Expression(constant=1.0), item.part.height_mm)
        for item in draft.entry.cache
        if isinstance(item.part, SolidStateDrive) and item.part.form == "2.5"
    ]
    by_key = draft.by_key
    for (key, _), count in draft.drives.items():
        part = by_key[key].part
        if isinstance(part, HardDrive) and part.form == "2.5":
            counts.append((count, part.height_mm))
    for height in sorted({h for _, h in counts}):
        high = total((count, 1.0) for count, h in counts if h >= height)
        room = bays_of(
            draft, lambda c, h=height: c.bays_25 if c.bay_25_height_mm >= h else 0
        )
        frames = chosen(draft, DriveAdapter, lambda a, h=height: a.max_height_mm >= h)  # type: ignore[misc]
        high.plus(room, -1.0)
        framed = high.copy().plus(draft.adapted, -1.0)
        draft.program.require("heights", framed, "<=", 0.0)
        draft.program.require("heights", high.plus(frames, -1.0), "<=", 0.0)


def by_width(draft: Draft) -> tuple[Expression, Expression]:
    """Return the drives that want a 3.5 and those that want a 2.5 inch bay."""
    large, small = Expression(), Expression()
    for (_, shape, _), count in draft.on_port.items():
        if shape.form:
            (large if shape.form == "3.5" else small).plus(count)
    return large, small


def bays_of(draft: Draft, count) -> Expression:  # type: ignore[no-untyped-def]  # noqa: ANN001
    """Return the bays of the chassis chosen, counted by a function of it."""
    return total(
        (draft.loose[item.key], float(count(item.part))) for item in draft.of(Chassis)
    )


def _multi_lane_bays(draft: Draft, in_35: Expression) -> None:
    """Keep drives behind multi-lane connectors within bays and connectors."""
    everywhere = Expression()
    kinds = {kind for _, kind in draft.to_multi}
    for kind in sorted(kinds):
        behind = total(
            (count, 1.0) for (_, k), count in draft.to_multi.items() if k == kind
        )
        everywhere.plus(behind)
        bays = bays_of(
            draft, lambda c, k=kind: c.bays_on_backplane if c.backplane == k else 0
        )
        plugs = bays_of(
            draft,
            lambda c, k=kind: -(-c.bays_on_backplane // 4) if c.backplane == k else 0,
        )
        pieces = total(
            (piece, 1.0) for (_, _, far), piece in draft.pieces.items() if far == kind
        )
        draft.program.require("multi_lane_bays", behind.plus(bays, -1.0), "<=", 0.0)
        draft.program.require("multi_lane_plugs", pieces.plus(plugs, -1.0), "<=", 0.0)
    plain_bays = bays_of(
        draft,
        lambda c: c.bays_35 - (c.bays_on_backplane if c.backplane in MULTI else 0),
    )
    row = in_35.copy().plus(everywhere, -1.0).plus(plain_bays, -1.0)
    draft.program.require("plain_bays", row, "<=", 0.0)


def _tray_holes(draft: Draft) -> None:
    """Keep drives without middle side holes out of trays that use nothing else."""
    bad = total(
        (count, 1.0)
        for (key, _), count in draft.drives.items()
        if any(
            i.key == key
            and isinstance(i.part, HardDrive)
            and i.part.side_holes == "no middle side"
            and i.part.form == "3.5"
            for i in draft.of(HardDrive)
        )
    )
    if not bad.terms:
        return
    picky = chosen(draft, Chassis, lambda c: c.tray_holes == "middle side only")  # type: ignore[attr-defined]
    most = float(draft.entry.storage.n_array)
    draft.program.require("tray_holes", bad.plus(picky, most), "<=", most)

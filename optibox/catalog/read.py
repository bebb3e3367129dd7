"""Catalog folders into one catalog; every fault of every file at once."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from optibox.catalog.catalog import Catalog
from optibox.catalog.classes import Classes, built_in_classes
from optibox.catalog.columns import Part
from optibox.catalog.head import HEAD_FILE
from optibox.catalog.kinds import KINDS
from optibox.catalog.layers import Layer, read_layer
from optibox.catalog.nearest import nearest
from optibox.catalog.notation import box_from_text
from optibox.catalog.platform import Board
from optibox.catalog.resolve import RawPart, resolve
from optibox.errors import CatalogError, Fault

_ORDER = {record.kind: number for number, record in enumerate(KINDS)}


def read_catalog(
    paths: Sequence[Path | str], *, texts: Mapping[Path, str] | None = None
) -> Catalog:
    """Return the catalog of one or several folders, later rows replacing earlier.

    A later row with the id of an earlier one replaces the cells that it fills;
    then blanks are filled from the class, then from the column's default.

    Parameters
    ----------
    paths : sequence of Path or str
        Catalog folders, or single CSV files, in order. The first one names the
        currency.
    texts : mapping of Path to str, optional
        Texts to read in place of files of the same path.

    Returns
    -------
    Catalog
        Parts ordered by kind, then as written.

    Raises
    ------
    CatalogError
        With every fault of all files.
    """
    if not paths:
        remedy = "Name a catalog folder."
        raise CatalogError([_fault("catalogs", "are missing", remedy)])
    layers = [read_layer(Path(path), texts) for path in paths]
    faults = [fault for layer in layers for fault in layer.faults]
    classes = built_in_classes()
    for layer in layers:
        classes = classes.extended(layer.classes)
    raws = _merged(layers, faults)
    parts = _resolved(raws.values(), classes, faults)
    currency = _currency(layers, faults)
    if not raws and not faults:
        problem, remedy = "holds no parts", "Add rows to its CSV files."
        faults.append(_fault(str(layers[0].path), problem, remedy))
    if faults:
        raise CatalogError(faults)
    return _catalog(layers, parts, currency)


def _fault(path: str, problem: str, remedy: str) -> Fault:
    return Fault(path=path, problem=problem, remedy=remedy)


def _catalog(layers: list[Layer], parts: Iterable[Part], currency: str) -> Catalog:
    days = [layer.head.day for layer in layers if layer.head.day]
    return Catalog(
        name=" + ".join(layer.head.name for layer in layers),
        currency=currency,
        date=min(days) if days else None,
        is_invented=any(layer.head.is_invented for layer in layers),
        notes="\n".join(layer.head.notes for layer in layers if layer.head.notes),
        folders=tuple(str(layer.path) for layer in layers),
        parts=tuple(sorted(parts, key=lambda part: _ORDER[part.kind])),
        postage={
            seller: amount
            for layer in layers
            for seller, amount in layer.head.postage.items()
        },
    )


def _currency(layers: list[Layer], faults: list[Fault]) -> str:
    named = [layer for layer in layers if layer.head.currency]
    first = layers[0].path / HEAD_FILE
    if not named and not layers[0].faults:
        remedy = 'Write currency = "EUR" (or your own) in it.'
        faults.append(_fault(str(first), "names no currency", remedy))
    for layer in named[1:]:
        if layer.head.currency != named[0].head.currency:
            problem = (
                f"counts in {layer.head.currency}, the catalog before it in "
                f"{named[0].head.currency}; nothing converts currencies"
            )
            remedy = "Write its prices in the same currency."
            faults.append(_fault(str(layer.path / HEAD_FILE), problem, remedy))
    return named[0].head.currency if named else ""


def _merged(layers: list[Layer], faults: list[Fault]) -> dict[str, RawPart]:
    """Return the rows by id, later cells laid over earlier ones."""
    merged: dict[str, RawPart] = {}
    for layer in layers:
        before = frozenset(merged)
        for raw in layer.rows:
            if raw.id not in merged and raw.kind:
                merged[raw.id] = _introduced(layer, raw)
            elif raw.id in before or not raw.kind:
                faults += _laid_over(merged, raw)
    return merged


def _laid_over(merged: dict[str, RawPart], raw: RawPart) -> list[Fault]:
    """Lay the cells of a later row over those of its part, or say why it cannot be."""
    earlier = merged.get(raw.id)
    if earlier is None:
        remedy = nearest(raw.id, merged)
        return [raw.fault("id", "is the id of no part before it", remedy)]
    if raw.kind not in ("", earlier.kind):
        problem = f"is a {earlier.kind} in {earlier.path}, not a {raw.kind}"
        remedy = "Use another id, or the file of that kind."
        return [raw.fault("id", problem, remedy)]
    earlier.cells.update(raw.cells)
    return []


def _introduced(layer: Layer, raw: RawPart) -> RawPart:
    """Return a copy of a part's first row, with the source that its catalog implies."""
    cells = dict(raw.cells)
    if layer.head.is_invented and "source" not in cells:
        cells["source"] = replace(cells["id"], text="invented")
    return replace(raw, cells=cells)


def _resolved(
    raws: Iterable[RawPart], classes: Classes, faults: list[Fault]
) -> list[Part]:
    parts, known = [], list(raws)
    ids = {raw.id for raw in known}
    for raw in known:
        part, found = resolve(raw, classes)
        faults += found
        faults += _box_faults(raw, ids)
        if part is not None:
            parts.append(part)
            faults += _sharing_faults(raw, part)
    return parts


def _box_faults(raw: RawPart, ids: set[str]) -> list[Fault]:
    cell = raw.cells.get("comes_with")
    if cell is None or not cell.text:
        return []
    try:
        box = box_from_text(cell.text)
    except ValueError as error:
        remedy = "Write ids as in 'sata-data x2 | plate-1'."
        return [raw.fault("comes_with", str(error), remedy)]
    return [
        raw.fault("comes_with", f"names '{name}', which is no part", nearest(name, ids))
        for name in box
        if name not in ids
    ]


def _sharing_faults(raw: RawPart, part: Part) -> list[Fault]:
    if not isinstance(part, Board):
        return []
    slots = [slot.name for slot in part.slots]
    named = {
        name
        for rule in part.sharing
        for name in (rule.slot, rule.other_slot)
        if name and name not in slots
    }
    return [
        raw.fault(
            "sharing",
            f"names the slot '{name}', which is not among its slots",
            nearest(name, slots),
        )
        for name in sorted(named)
    ]

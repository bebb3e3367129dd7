"""Measured figures as the file that scenarios name, so that the next plan uses them."""

from collections.abc import Iterator

from optibox.build import Item
from optibox.build.items import OWNED_SUFFIX
from optibox.catalog.columns import Figure
from optibox.catalog.platform import Board
from optibox.catalog.storage import HardDrive
from optibox.files import FORMAT
from optibox.measure.found import Interval
from optibox.measure.power_fit import PowerFit
from optibox.measure.reconcile import Reconciliation
from optibox.measure.unknowns import Unknown

Cells = dict[str, dict[str, str]]


def override_text(
    found: Reconciliation,
    source: str,
    *,
    combined: bool = False,
    only: frozenset[str] | None = None,
) -> str:
    """Return the text of a file of measured figures.

    Only what readings determine part by part is written; what was never seen apart
    stands in comments, since no scenario could use it without a guess.

    Parameters
    ----------
    found : Reconciliation
        What readings say.
    source : str
        Name of the readings file, for the note.
    combined : bool
        Fill the rest with readings and catalog taken together, marked so.
    only : frozenset of str, optional
        Ids of the parts to write; others would be faults in a scenario without them.
    """
    lines = [
        "# Figures from measurements; a scenario uses them with  measured = "
        '"<this file>".',
        f"format = {FORMAT}",
        f"note = {_quoted(f'measured, from {source}')}",
    ]
    factors = {
        f.name: _cell(f.value, f.low, f.high) for f in found.factors if not f.key
    }
    if factors:
        lines += ["", "[factors]"]
        lines += [f"{name} = {_quoted(text)}" for name, text in factors.items()]
    for key, cells in _parts(found, combined=combined).items():
        if only is not None and key.partition(OWNED_SUFFIX)[0] not in only:
            continue
        lines += ["", f"[parts.{_quoted(key)}]"]
        lines += [f"{name} = {text}" for name, text in cells.items()]
    lines += ["", *_not_saved(found)] if found.fit else []
    return "\n".join(lines).rstrip() + "\n"


def _quoted(text: str) -> str:
    clean = "".join(c if c.isprintable() else " " for c in text)
    return '"' + clean.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _cell(value: float, low: float, high: float) -> str:
    """Return a figure as a cell, rounded to what its interval can bear."""
    ends = sorted((max(0.0, low), max(0.0, value), max(0.0, high)))
    digits = 3 if high - low < 0.3 else 2
    rounded = [round(end, digits) for end in ends]
    return str(Figure(rounded[0], rounded[1], rounded[2]))


def _parts(found: Reconciliation, *, combined: bool) -> Cells:
    """Return the cells by item key, watts first."""
    cells: Cells = {}
    if found.fit is not None:
        for entry in found.machine.build.items:
            own = _item_cells(found.fit, entry.item, combined=combined)
            if own:
                cells[entry.item.key] = own
        for key, text in _deep_idle(found.fit):
            cells.setdefault(key, {})["deep_idle_loss_w"] = text
    for factor in found.factors:
        if factor.key:
            text = _quoted(_cell(factor.value, factor.low, factor.high))
            cells.setdefault(factor.key, {})[factor.name] = text
    return cells


def _item_cells(fit: PowerFit, item: Item, *, combined: bool) -> dict[str, str]:
    """Return the watt cells of one item; what rests on the catalog is marked."""
    is_drive = isinstance(item.part, HardDrive)
    alone = {u: f.measured for u, f in fit.by_unknown.items() if f.measured is not None}
    own = dict(_watts(alone, item.key, is_drive=is_drive))
    if not combined:
        return own
    together = dict(_watts(fit.combined, item.key, is_drive=is_drive))
    return {name: f"{text}  # with catalog" for name, text in together.items()} | own


def _deep_idle(fit: PowerFit) -> Iterator[tuple[str, str]]:
    """Yield the board's key and its loss of deep idle, where the readings show it."""
    boards = [
        entry.item.key
        for entry in fit.machine.build.items
        if isinstance(entry.item.part, Board)
    ]
    for unknown, known in fit.by_unknown.items():
        if unknown.aspect == "deep idle" and known.measured is not None and boards:
            yield boards[0], _quoted(_interval_cell(known.measured))


def _watts(
    known: dict[Unknown, Interval], key: str, *, is_drive: bool
) -> Iterator[tuple[str, str]]:
    """Yield the watt columns of one item that some known figures give."""
    own = {u.aspect: interval for u, interval in known.items() if u.key == key}
    idle, work = own.get("idle"), own.get("at work")
    if idle is not None:
        yield "idle_w", _quoted(_interval_cell(idle))
    if is_drive and "standby" in own:
        yield "standby_w", _quoted(_interval_cell(own["standby"]))
    if idle is not None and work is not None:
        active = Interval(
            value=idle.value + work.value,
            low=idle.low + work.low,
            high=idle.high + work.high,
        )
        yield "active_w", _quoted(_interval_cell(active))


def _interval_cell(interval: Interval) -> str:
    return _cell(interval.value, interval.low, interval.high)


def _not_saved(found: Reconciliation) -> Iterator[str]:
    """Yield comments on what was measured and cannot be written part by part."""
    if found.fit is None:
        return
    for figure in found.fit.found:
        names = "".join(c if c.isprintable() else " " for c in figure.words)
        if figure.measured is None:
            yield f"# Not told apart, not saved: {names}."
        elif len(figure.members) > 1:
            value = figure.measured
            yield (
                f"# Only seen together, not saved: {names}: {value.value:.2f} W "
                f"[{value.low:.2f}..{value.high:.2f}] at the parts."
            )

"""The whole answer about watts and changes: as lines, as JSON, as CSV."""

import json
import math
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from optibox.assess import Assessment
from optibox.build import Item
from optibox.catalog.csvcells import csv_text
from optibox.present.as_json import finite
from optibox.present.marginal_text import marginal_lines
from optibox.present.swaps_text import sequence_lines, swap_lines, swaps_verdict
from optibox.present.swaps_words import swap_words
from optibox.present.text import PIPED_WIDTH, Line
from optibox.present.watt_text import watt_lines, watt_sentence
from optibox.present.words import wrapped
from optibox.running.marginal import MarginalPrice, MarginalPrices
from optibox.running.swap_changes import Change
from optibox.running.swap_payback import PaybackRange
from optibox.running.swap_sequence import SwapSequence
from optibox.running.swaps import Swap, SwapList
from optibox.running.watt import WattWorth

FORMAT = 1
"""Version of the layout of this JSON."""

_CENTS = 2


@dataclass(frozen=True, kw_only=True)
class WattReport:
    """What one watt costs, what to change next, what each need costs."""

    worths: tuple[WattWorth, ...]
    swaps: SwapList
    rows: Sequence[tuple[Swap, PaybackRange]]
    """Swaps to show, with their paybacks."""

    currency: str
    sequence: SwapSequence | None = None
    marginal: MarginalPrices | None = None

    @property
    def found(self) -> Assessment:
        """Return the machine as it is."""
        return self.swaps.before


def watt_report_lines(report: WattReport, width: int = PIPED_WIDTH) -> list[Line]:
    """Return the answer as lines, the verdict first."""
    found, currency = report.found, report.currency
    years = found.scenario.money.years
    verdict = swaps_verdict(report.swaps, currency)
    lines = [Line(t, "strong") for t in wrapped(verdict, width)]
    sentence = watt_sentence(report.worths, currency, years)
    lines += [Line(t) for t in wrapped(sentence, width)]
    lines += [Line(""), *swap_lines(report.swaps, report.rows, currency, width)]
    if report.sequence is not None:
        lines += [Line(""), *sequence_lines(report.sequence, currency, width)]
    lines += [Line(""), *watt_lines(report.worths, currency, found.scenario, width)]
    if report.marginal is not None:
        lines += [Line(""), *marginal_lines(report.marginal, currency, width)]
    return lines


def watt_json(report: WattReport) -> str:
    """Return the answer as JSON text."""
    table = {
        "format": FORMAT,
        "currency": report.currency,
        "years": report.found.scenario.money.years,
        "in_hand": report.swaps.is_in_hand,
        "verdict": swaps_verdict(report.swaps, report.currency),
        "worth_changing": report.swaps.best is not None,
        "watt": [asdict(row) for row in report.worths],
        "present": _figures(report.found),
        "swaps": [_swap(swap, payback) for swap, payback in report.rows],
        "tried": {
            "changes": report.swaps.n_changes,
            "pairs": report.swaps.n_pairs,
            "pairs_that_cannot_pay": report.swaps.n_hopeless,
            "pairs_not_tried": report.swaps.n_left,
        },
        "sequence": report.sequence and _sequence(report.sequence),
        "marginal_prices": report.marginal
        and [_marginal(price) for price in report.marginal.prices],
    }
    text = json.dumps(finite(table), indent=2, ensure_ascii=False, allow_nan=False)
    return text + "\n"


def _figures(found: Assessment) -> dict[str, Any]:
    return {
        "is_fit": found.is_fit,
        "asleep_w": found.wall.asleep_w,
        "spinning_w": found.wall.spinning_w,
        "reading_w": found.wall.reading_w,
        "writing_w": found.wall.writing_w,
        "checking_w": found.wall.checking_w,
        "peak_w": found.wall.peak_w,
        "read_mb_s": found.rates.read_mb_s,
        "write_mb_s": found.rates.write_mb_s,
        "ingest_mb_s": found.rates.ingest_mb_s,
        "usable_tb": found.capacity.usable_tb,
        "kwh_per_year": found.year.kwh,
        "total_cost": round(found.total_cost, _CENTS),
    }


def _change(change: Change) -> dict[str, Any]:
    return {
        "kind": change.kind,
        "role": change.role,
        "out": _id(change.out),
        "out_count": change.n_out,
        "in": _id(change.into),
        "in_count": change.n_in,
        "in_is_owned": bool(change.into and change.into.is_owned),
    }


def _id(item: Item | None) -> str | None:
    return item.part.id if item else None


def _swap(swap: Swap, payback: PaybackRange) -> dict[str, Any]:
    return {
        "words": swap_words(swap.changes),
        "changes": [_change(change) for change in swap.changes],
        "net": round(swap.net, _CENTS),
        "money_now": round(swap.money_now, _CENTS),
        "saving_per_year": round(swap.saving_per_year, _CENTS),
        "payback_years": {
            level: value if math.isfinite(value) else None
            for level, value in asdict(payback).items()
        },
        "sum_of_parts": swap.sum_of_parts,
        "after": _figures(swap.after),
    }


def _sequence(found: SwapSequence) -> dict[str, Any]:
    return {
        "net": round(found.net, _CENTS),
        "budget_per_year": found.budget_per_year,
        "exact_over_all_changes": found.is_over_all,
        "changes_in_play": found.n_changes,
        "sets_assessed": found.n_sets,
        "steps": [
            {
                "year": step.year,
                "price": round(step.price, _CENTS),
                "words": swap_words(step.changes),
                "changes": [_change(change) for change in step.changes],
                "after": _figures(step.after),
            }
            for step in found.steps
        ],
    }


def _marginal(row: MarginalPrice) -> dict[str, Any]:
    return {
        "key": row.question.key,
        "unit": row.question.unit,
        "given": row.question.given,
        "asked": row.question.asked,
        "price": row.price,
        "purchase": row.purchase,
        "is_proven": row.is_proven,
    }


CSV_COLUMNS = (
    "net",
    "money_now",
    "saving_per_year",
    "payback_low_years",
    "payback_mid_years",
    "payback_high_years",
    "asleep_w",
    "spinning_w",
    "read_mb_s",
    "write_mb_s",
    "ingest_mb_s",
    "changes",
    "currency",
)


def watt_csv(report: WattReport) -> str:
    """Return the swap list as CSV, doing nothing in its place."""
    return csv_text(CSV_COLUMNS, list(_csv_rows(report)))


def _csv_rows(report: WattReport) -> Iterator[dict[str, str]]:
    is_placed = False
    for swap, payback in report.rows:
        if swap.net < 0 and not is_placed:
            is_placed = True
            yield _csv_row(report, report.found, ("0.00",) * 3, ("",) * 3, "do nothing")
        sums = (swap.net, swap.money_now, swap.saving_per_year)
        years = (payback.low, payback.mid, payback.high)
        yield _csv_row(
            report,
            swap.after,
            tuple(f"{value:.2f}" for value in sums),
            tuple(f"{value:.2f}" if math.isfinite(value) else "" for value in years),
            swap_words(swap.changes),
        )
    if not is_placed:
        yield _csv_row(report, report.found, ("0.00",) * 3, ("",) * 3, "do nothing")


def _csv_row(
    report: WattReport,
    found: Assessment,
    sums: tuple[str, ...],
    years: tuple[str, ...],
    words: str,
) -> dict[str, str]:
    rates, wall = found.rates, found.wall
    figures = (wall.asleep_w, wall.spinning_w, rates.read_mb_s, rates.write_mb_s)
    cells = [
        *sums,
        *years,
        *(f"{value:.2f}" for value in (*figures, rates.ingest_mb_s)),
        words,
        report.currency,
    ]
    return dict(zip(CSV_COLUMNS, cells, strict=True))

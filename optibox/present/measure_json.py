"""What readings say, as JSON.

Keys: ``format``; ``currency``; ``n_blank``; ``power``, null without wall readings:
``rank``, ``spare``, ``widened`` (factor), ``wall_per_dc``, ``figures`` (``members``
with ``key``, ``aspect``, ``name``, ``count``, ``ratio``; ``identified``; ``value_w``,
``low_w``, ``high_w`` at the parts, null where not identified; ``together``;
``tied``; ``catalog_low_w``, ``catalog_w``, ``catalog_high_w``; ``agrees``),
``with_catalog`` (``key``, ``aspect``, ``value_w``, ``low_w``, ``high_w``), ``unseen``,
``readings`` (``line``, ``state``, ``watts``, ``error_w``, ``fitted_w``, ``planned_w``),
``states`` (``measured_w``, ``error_w``, ``planned_w``, ``unexplained_w``),
``unexplained`` (``pattern``, ``suspects``, ``hidden``), ``per_drive``, ``drift``,
``outliers``; ``transfers`` (``line``, ``measured_mb_s``, ``planned_mb_s``, ``binds``,
``verdict``: as planned, refused, faster, slower; ``reason``, ``pattern``, ``culprit``,
``suspects``); ``factors``; ``counters``; ``changed``; ``decisions``; ``next``;
``replanned``, null unless asked for: ``before``, ``after``, ``dropped``, ``added``.
"""

import json
from dataclasses import asdict
from typing import Any

from optibox.measure.effect import DecisionNow
from optibox.measure.found import FoundFigure, Interval
from optibox.measure.power_fit import PowerFit
from optibox.measure.rates import Judged
from optibox.measure.reconcile import Reconciliation
from optibox.measure.replan import Replanned

FORMAT = 1
_DIGITS = 4


def reconcile_json(
    found: Reconciliation, currency: str, again: Replanned | None = None
) -> str:
    """Return everything that readings say as JSON text."""
    table = {
        "format": FORMAT,
        "currency": currency,
        "n_blank": found.readings.n_blank,
        "power": None if found.fit is None else _power(found, found.fit),
        "transfers": [_transfer(one) for one in found.judged],
        "factors": [
            {
                "key": one.key,
                "name": one.name,
                "value": one.value,
                "low": one.low,
                "high": one.high,
                "believed_low": one.figure.low,
                "believed_high": one.figure.high,
                "agrees": one.agrees,
                "lines": list(one.lines),
            }
            for one in found.factors
        ],
        "counters": [asdict(note) for note in found.counters],
        "changed": [asdict(one) for one in found.changed],
        "decisions": [_decision(one) for one in found.decisions],
        "next": [
            {
                "label": one.label,
                "minutes": one.minutes,
                "worth": one.worth,
                "settles": one.settles,
                "narrows": one.narrows.name,
                "before_w": one.before_w,
                "after_w": one.after_w,
            }
            for one in found.next
        ],
        "replanned": None if again is None else _replanned(again),
    }
    return json.dumps(_rounded(table), ensure_ascii=False, indent=2) + "\n"


def _replanned(again: Replanned) -> dict[str, Any]:
    plans = {"before": again.before, "after": again.after}
    return {
        **{
            name: {
                "status": plan.status,
                "total_cost": None
                if plan.assessment is None
                else round(plan.assessment.total_cost, 2),
            }
            for name, plan in plans.items()
        },
        "dropped": dict(again.dropped),
        "added": dict(again.added),
        "unknown_to_scenario": list(again.unused),
    }


def _rounded(value: Any) -> Any:  # noqa: ANN401 - any JSON value
    if isinstance(value, float):
        return round(value, _DIGITS)
    if isinstance(value, dict):
        return {key: _rounded(item) for key, item in value.items()}
    return [_rounded(item) for item in value] if isinstance(value, list) else value


def _power(found: Reconciliation, fit: PowerFit) -> dict[str, Any]:
    return {
        "rank": fit.rank,
        "spare": fit.n_spare,
        "widened": fit.scale,
        "wall_per_dc": fit.factor,
        "figures": [_figure(one) for one in fit.found],
        "with_catalog": [
            {"key": u.key, "aspect": u.aspect, **_interval(interval)}
            for u, interval in fit.combined.items()
        ],
        "unseen": [{"key": u.key, "aspect": u.aspect} for u in fit.unseen],
        "readings": [
            {
                "line": one.reading.line,
                "state": one.reading.situation.state,
                "watts": one.reading.watts,
                "error_w": one.reading.error_w,
                "fitted_w": one.fitted_w,
                "planned_w": one.planned_w,
            }
            for one in fit.fitted
        ],
        "states": [
            {
                "state": gap.state,
                "measured_w": gap.measured_w,
                "error_w": gap.error_w,
                "planned_w": gap.planned_w,
                "unexplained_w": gap.left_w,
                "beyond_error": gap.is_real,
            }
            for gap in found.gaps
        ],
        "unexplained": {
            "pattern": found.unexplained.pattern,
            "suspects": [one.words for one in found.unexplained.suspects],
            "hidden": list(found.unexplained.hidden),
        },
        "per_drive": None if found.per_drive is None else asdict(found.per_drive),
        "drift": None if fit.drift is None else asdict(fit.drift),
        "outliers": [asdict(one) for one in fit.outliers],
    }


def _interval(interval: Interval | None) -> dict[str, float | None]:
    if interval is None:
        return {"value_w": None, "low_w": None, "high_w": None}
    return {
        "value_w": interval.value,
        "low_w": interval.low,
        "high_w": interval.high,
    }


def _figure(one: FoundFigure) -> dict[str, Any]:
    catalog = one.catalog
    return {
        "members": [
            {
                "key": member.key,
                "aspect": member.aspect,
                "name": member.name,
                "count": member.count,
                "ratio": ratio,
            }
            for member, ratio in zip(one.members, one.ratios, strict=True)
        ],
        "identified": one.measured is not None,
        "together": len(one.members) > 1,
        **_interval(one.measured),
        "tied": list(one.tied),
        "catalog_low_w": catalog.low,
        "catalog_w": catalog.mid,
        "catalog_high_w": catalog.high,
        "agrees": one.agrees,
    }


def _verdict(one: Judged) -> str:
    if one.refused:
        return "refused"
    if one.is_as_planned:
        return "as planned"
    return "faster" if one.reading.mb_s > one.planned.rate_mb_s else "slower"


def _transfer(one: Judged) -> dict[str, Any]:
    return {
        "line": one.reading.line,
        "operation": one.reading.operation,
        "measured_mb_s": one.reading.mb_s,
        "planned_mb_s": one.planned.rate_mb_s,
        "binds": one.planned.name,
        "verdict": _verdict(one),
        "reason": one.refused,
        "pattern": one.pattern,
        "culprit": None if one.culprit is None else one.culprit.words,
        "suspects": [
            {"kind": s.kind, "words": s.words, "mb_s": s.mb_s} for s in one.suspects
        ],
    }


def _decision(one: DecisionNow) -> dict[str, Any]:
    return {
        "keep": one.decision.keep,
        "change": one.decision.change,
        "gain_planned": one.gain_before,
        "gain": one.gain_after,
        "gain_low": one.low,
        "gain_high": one.high,
        "turned": one.is_turned,
        "open": one.is_open,
    }

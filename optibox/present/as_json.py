"""The answer as JSON: everything, in a fixed order, money rounded to cents.

Keys, at the top:

- ``format``: version of this layout; ``status``: ``optimal``, ``feasible`` (stopped
  without proof), ``infeasible`` or ``unknown`` (stopped without any build)
- ``aim``; ``gap``: relative gap between value and bound, 0 when proven, null without
  a build; ``currency``; ``in_play``: needs and limits in words, without a build
- ``catalog``: ``name``, ``stamp``, ``invented``, ``date``
- ``proof``: ``bound`` and ``value`` in the aim's unit, ``entries``, ``bounded``,
  ``solves``, ``solver``, ``seconds``, ``evaluator_agrees``
- ``build``: null without a build, else ``parts`` (``id``, ``kind``, ``label``,
  ``count`` in the machine, ``owned`` yes or no, ``spare``), ``drives`` (``name``,
  ``id``, ``role``), ``wiring`` (a row a drive: ``bay``, ``cable``, ``cable_words``,
  ``host``, ``connector``, ``port``, ``slot``, ``link``, ``link_mb_s``,
  ``shared_with``, ``power`` and more), ``cards``, ``power`` (a row a power plug in
  use: ``load``, ``source``, ``number``, ``plug``, ``part_id`` of an adapter, ``words``,
  ``carries_3v3``, amperes, ``most_a``), ``power_sentence``, ``operation``
  (``timeout_min`` null = drives never stop)
- ``figures``: one number a key, the unit in the key: ``_tb``, ``_tib``, ``_mb_s``,
  ``_h``, ``_s``, ``_w``, ``_kwh_per_year``, ``_fraction``; ``_price`` in the currency
- ``year``: hours, watts at the wall, kWh and price of each state
- ``rates``: what sets each rate and what is next; ``slack``: needs, limits, resources
- ``alternatives``: the same parts run in other ways
- ``findings``: ``rule``, ``severity``, ``evidence``, ``fix``
- ``settle_first``; ``order``: the order list; ``postage``; ``unused_owned``: what is
  owned and has no place in the machine
- ``migration``: the order of steps from drives that hold data; see
  ``migration_json.migration_table``
- ``certificate``, where asked for: ``verdict`` (certified, counter-example, not settled,
  void), ``solver``, ``value``, ``priced`` (what the flat program asks for the answer),
  ``margin``, ``entries``, ``entries_settled``, ``rounds``, ``machines_judged``,
  ``parts``, ``owned_pieces``, ``seconds``, ``why``, ``better`` (``value``, ``parts``),
  ``shared`` (functions that the planner uses too), ``not_known``
- ``second_thoughts``, where asked for: ``nearest`` (``without``, ``extra_price``,
  ``uncertainty_price``, ``is_tie``, ``machine``, ``parts``), ``walk_away`` (a row a line
  of the order list: ``id``, ``price``, ``walk_away_price`` of a pack, null = at any
  price, ``without_extra_price``, null = nothing else fits), ``is_proven``, ``searches``
- ``explanation``: without a build, why and what nearly does; see
  ``report.explain.explanation_table``
- ``assumptions``: ``key``, ``value``, ``meaning``, the most influential first
- ``cautions``: ``key``, ``steps``, ``text``

What has no finite value, such as an endurance without writes, is null.
"""

import json
import math
from dataclasses import asdict
from typing import Any

from optibox.assess import Assessment, route_to
from optibox.build import Build
from optibox.present.cautions import CAUTIONS
from optibox.present.certificate import certificate_dict
from optibox.present.figures_table import figure_groups
from optibox.present.migration_json import migration_table
from optibox.present.order import order_list, postage_of, unused_owned
from optibox.present.report import Report, agrees
from optibox.present.run_line import variants
from optibox.present.settle import to_settle
from optibox.present.slack import rate_stages, slacks
from optibox.present.wiring_map import (
    card_rows,
    power_rows,
    power_sentence,
    wiring_rows,
)
from optibox.report.explain import explanation_dict
from optibox.report.second import second_dict
from optibox.rules import remedy_of

FORMAT = 1
"""Version of the layout of this JSON."""

_CENTS = 2
_DIGITS = 6
"""Decimals of numbers that are not money: far below what any figure is known to."""


def as_json(report: Report) -> str:
    """Return the answer as JSON text."""
    table = json_table(report)
    return json.dumps(table, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def json_table(report: Report) -> dict[str, Any]:
    """Return the answer as the table that is written as JSON."""
    plan, catalog, found = report.plan, report.catalog, report.assessment
    table: dict[str, Any] = {
        "format": FORMAT,
        "status": plan.status,
        "aim": plan.aim,
        "gap": None if found is None else plan.proof.gap,
        "currency": report.currency,
        "in_play": list(plan.in_play),
        "scenario": {"name": report.scenario.name, "about": report.scenario.about},
        "catalog": {
            "name": catalog.name,
            "stamp": report.stamp,
            "invented": catalog.is_invented,
            "date": catalog.date.isoformat() if catalog.date else None,
        },
        "proof": _proof(report),
        "build": None,
    }
    if found is not None:
        table |= described(found, report.currency)
    if report.second is not None:
        table["second_thoughts"] = second_dict(report.second)
    if report.certificate is not None:
        table["certificate"] = certificate_dict(report.certificate)
    if report.refusal is not None:
        table["explanation"] = explanation_dict(report.refusal)
    table["assumptions"] = [row._asdict() for row in report.assumed]
    table["cautions"] = [asdict(caution) for caution in CAUTIONS]
    return finite(table)  # type: ignore[no-any-return]


def _proof(report: Report) -> dict[str, Any]:
    proof, has_build = report.plan.proof, report.assessment is not None
    return {
        "bound": proof.bound if has_build else None,
        "value": proof.value if has_build else None,
        "entries": proof.n_entries,
        "bounded": proof.n_bounded,
        "solves": proof.n_solves,
        "neighbours": proof.guard.n_neighbours if proof.guard else None,
        "neighbours_tried": proof.guard.n_tried if proof.guard else None,
        "unsolved": proof.n_unsolved,
        "solver": proof.solver,
        "seconds": round(proof.seconds, 3),
        "evaluator_agrees": agrees(report.plan),
    }


def described(
    found: Assessment, currency: str, *, moves_data: bool = True
) -> dict[str, Any]:
    """Return a machine's build, figures and findings as a table.

    What is said of moving data is left out where no order of steps can be asked for.
    """
    return {
        "build": {
            "parts": _parts(found.build),
            "drives": _drives(found.build),
            "wiring": [asdict(row) for row in wiring_rows(found)],
            "cards": [asdict(row) for row in card_rows(found)],
            "power": [asdict(row) for row in power_rows(found)],
            "power_sentence": power_sentence(found),
            "operation": _operation(found),
        },
        "figures": {
            figure.key: round(figure.value, _CENTS if figure.is_money else _DIGITS)
            if math.isfinite(figure.value)
            else None
            for group in figure_groups(found, currency)
            for figure in group.figures
        },
        "year": _states(found),
        "rates": [asdict(row) for row in rate_stages(found)],
        "slack": [
            asdict(row) | {"slack": row.slack, "is_tight": row.is_tight}
            for row in slacks(found)
        ],
        "alternatives": [
            asdict(v) | {"cost_difference": round(v.cost_difference, _CENTS)}
            for v in variants(found)
        ],
        "findings": [
            {**asdict(finding), "fix": remedy_of(finding)} for finding in found.findings
        ],
        **({"settle_first": list(to_settle(found))} if moves_data else {}),
        "order": _order(found),
        "postage": [asdict(postage) for postage in postage_of(found.build)],
        "unused_owned": [asdict(row) for row in unused_owned(found)],
        **({"migration": _migration(found)} if moves_data else {}),
    }


def _migration(found: Assessment) -> Any:  # noqa: ANN401 - a table or nothing
    return migration_table(route_to(found))


def _parts(build: Build) -> list[dict[str, Any]]:
    spare = {entry.item.key: entry.count for entry in build.spares}
    used = {entry.item.key: entry.count for entry in build.items}
    items = {e.item.key: e.item for e in build.items + build.spares}
    return [
        {
            "id": item.part.id,
            "kind": item.part.kind,
            "label": item.part.name,
            "count": used.get(key, 0),
            "owned": item.is_owned,
            "spare": spare.get(key, 0),
        }
        for key, item in items.items()
    ]


def _drives(build: Build) -> list[dict[str, Any]]:
    return [
        {
            "name": use.name,
            "id": build.item(use.key).part.id,
            "owned": build.item(use.key).is_owned,
            "role": use.role,
        }
        for use in build.drives
    ]


def _operation(found: Assessment) -> dict[str, Any]:
    plan = found.machine.operation
    return asdict(plan) | {"failures_survived": plan.failures_survived}


def _states(found: Assessment) -> list[dict[str, Any]]:
    return [
        {
            "state": row.name,
            "hours": row.hours,
            "wall_w": row.wall_w,
            "kwh": row.kwh,
            "price": round(row.money, _CENTS),
        }
        for row in found.year.states
    ]


def _order(found: Assessment) -> list[dict[str, Any]]:
    return [
        asdict(row)
        | {
            "count": row.count,
            "state": row.state,
            "price": round(row.price, _CENTS),
            "pack_price": round(row.pack_price, _CENTS),
            "extras": dict(sorted(row.extras.items())),
        }
        for row in order_list(found)
    ]


def finite(value: Any) -> Any:  # noqa: ANN401 - any JSON value
    """Return a value with floats rounded, and nothing in place of what is not finite."""
    if isinstance(value, dict):
        return {str(key): finite(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [finite(item) for item in value]
    if isinstance(value, float):
        return round(value, _DIGITS) if math.isfinite(value) else None
    return value

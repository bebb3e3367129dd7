"""A machine for programs: build, figures, findings, order list."""

import math
from dataclasses import asdict
from typing import Any

from optibox.assess import Assessment, route_to
from optibox.build import Build
from optibox.report.as_json import cents
from optibox.report.figures import figure_groups
from optibox.report.migration import migration_dict
from optibox.report.order import order_list, postage_of, unused_owned
from optibox.report.run_line import variants
from optibox.report.settle import to_settle
from optibox.report.slack import rate_stages, slacks
from optibox.report.wiring_map import card_rows, power_rows, power_sentence, wiring_rows
from optibox.rules import remedy_of


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
            figure.key: cents(figure.value)
            if figure.is_money
            else _finite(figure.value)
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
            asdict(v) | {"cost_difference": cents(v.cost_difference)}
            for v in variants(found)
        ],
        "findings": [
            {**asdict(finding), "fix": remedy_of(finding)} for finding in found.findings
        ],
        **({"settle_first": list(to_settle(found))} if moves_data else {}),
        "order": _order(found),
        "postage": [asdict(postage) for postage in postage_of(found.build)],
        "unused_owned": [asdict(row) for row in unused_owned(found)],
        **({"migration": migration_dict(route_to(found))} if moves_data else {}),
    }


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None


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
            "price": cents(row.money),
        }
        for row in found.year.states
    ]


def _order(found: Assessment) -> list[dict[str, Any]]:
    return [
        asdict(row)
        | {
            "count": row.count,
            "state": row.state,
            "price": cents(row.price),
            "pack_price": cents(row.pack_price),
            "extras": dict(sorted(row.extras.items())),
        }
        for row in order_list(found)
    ]

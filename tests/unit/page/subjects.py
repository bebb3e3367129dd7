"""Subjects of pages: the machines that are wired by hand, run in several ways."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from optibox.assess import Assessment, assess
from optibox.build import Build
from optibox.catalog.catalog import Catalog
from optibox.page.data import Subject
from optibox.page.rows import frontier_of
from optibox.report.answer import Report
from optibox.scenario import Scenario, assumed_defaults
from tests.unit.present.machines import (
    invented,
    plan_of,
    reference_build,
    scenario,
)

CATALOG = invented()
NIGHT = {"days": "all", "from_hour": 22, "to_hour": 6, "price_per_kwh": 0.19}
WEEKEND = {"days": "weekend", "from_hour": 9, "to_hour": 17, "price_per_kwh": 0.24}
MONEY = {
    "tariff_per_kwh": 0.31,
    "bands": [NIGHT, WEEKEND],
    "tariff_growth": 0.03,
    "discount": 0.02,
    "years": 6,
    "terms": ["purchase", "energy", "wear", "cache wear", "replacements", "resale"],
    "resale_fraction": 0.2,
    "carbon_g_per_kwh": 350,
}
PLAIN = {"tariff_per_kwh": 0.30}


def asked(money: dict | None = None, **sections) -> Scenario:
    """Return the question of the reference machine with its own money."""
    needs = {"ingest_mb_s": 60} | sections.pop("needs", {})
    return scenario(
        name="A cupboard archive", money=money or PLAIN, needs=needs, **sections
    )


def without_cache(**operation) -> Build:
    """Return the reference machine without its two cache drives and their cables."""
    build = reference_build(CATALOG, cache="none", **operation)
    gone = {"ref-ssd-sata-500": 2, "cable-sata-05": 2}
    items = (
        replace(entry, count=entry.count - gone.get(entry.item.key, 0))
        for entry in build.items
    )
    return replace(
        build,
        items=tuple(entry for entry in items if entry.count),
        drives=tuple(d for d in build.drives if d.role != "cache"),
        connections=tuple(
            c for c in build.connections if not c.drive.startswith("cache")
        ),
    )


def together(layout: str, n_parity: int = 0, **operation) -> Build:
    """Return the reference machine with its drives in a stripe or in pairs."""
    settings = {"layout": layout, "n_parity": n_parity, "write_mode": "plain"}
    build = reference_build(CATALOG, **settings, **operation)
    roles = (
        replace(drive, role="data") if drive.role == "parity" else drive
        for drive in build.drives
    )
    return replace(build, drives=tuple(roles))


def machines(question: Scenario) -> list[Assessment]:
    """Return five machines: two sets of parts, run in several ways."""
    builds = [
        reference_build(CATALOG),
        reference_build(CATALOG, timeout_min=None),
        reference_build(CATALOG, write_mode="read-modify-write"),
        without_cache(timeout_min=60),
        without_cache(write_mode="read-modify-write"),
    ]
    return [assess(build, question) for build in builds]


def subject(money: dict | None = None, n_rows: int = 5, **sections) -> Subject:
    """Return a page's subject; its plan is the reference machine."""
    question = asked(money, **sections)
    plan, *others = machines(question)
    return subject_of(plan, others[: n_rows - 1])


def subject_of(
    plan: Assessment,
    others: Sequence[Assessment] = (),
    catalog: Catalog = CATALOG,
    **more,
) -> Subject:
    """Return the subject of a page about a plan's machine and others."""
    report = Report(
        plan=plan_of(plan),
        scenario=plan.scenario,
        catalog=catalog,
        assumed=tuple(assumed_defaults(plan.scenario)),
        today=date(2026, 11, 25),
    )
    settings = {"command": "optibox page cupboard.toml"} | more
    return Subject(
        frontier=frontier_of(plan_of(plan), others), report=report, **settings
    )

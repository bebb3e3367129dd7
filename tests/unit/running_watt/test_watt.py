"""What a watt is worth, against finite differences and a library for money."""

from dataclasses import replace

import numpy_financial as npf
import pytest

from optibox.assess import Assessment, assess
from optibox.build import Build, ItemCount
from optibox.catalog.columns import Figure
from optibox.catalog.platform import Chassis
from optibox.catalog.storage import HardDrive
from optibox.running.watt import WattWorth, watt_worths
from optibox.search.plan import plan
from tests.support.tiny import Seeded, drawn, supplies, tariffs

STEP_W = 1e-3
HOURS_PER_YEAR = 8760


@pytest.fixture(scope="module", params=(1, 4, 9))
def found(request) -> Assessment:
    """Return the best machine of a tiny catalog with tariff bands and lossy supplies."""
    for seed in range(request.param, request.param + 50):
        instance = drawn(Seeded(seed), [supplies, tariffs], 2_000)
        if instance is None:
            continue
        money = instance.scenario.money.model_copy(
            update={
                "years": 7,
                "discount": 0.04,
                "tariff_growth": 0.03,
                "carbon_g_per_kwh": 400.0,
            }
        )
        scenario = instance.scenario.model_copy(update={"money": money})
        best = plan(instance.catalog, scenario).assessment
        if best is not None:
            return best
    raise AssertionError


def row(found: Assessment, where: str, when: str) -> WattWorth:
    (only,) = (r for r in watt_worths(found) if (r.where, r.when) == (where, when))
    return only


def with_more(build: Build, record: type, column: str) -> Build:
    """Return a build in which one figure of a kind of part is a little larger."""

    def more(entry: ItemCount) -> ItemCount:
        part = entry.item.part
        if not isinstance(part, record):
            return entry
        value = getattr(part, column).mid + STEP_W / entry.count
        moved = part.model_copy(update={column: Figure(value, value, value)})
        item = type(entry.item)(
            key=entry.item.key,
            part=moved,
            owned=entry.item.owned,
            limit=entry.item.limit,
        )
        return ItemCount(item=item, count=entry.count)

    return replace(build, items=tuple(map(more, build.items)))


def test_a_watt_all_year_is_what_the_evaluator_charges_for_one(found) -> None:
    """The chassis draws its watts in every state: a finite difference is the worth."""
    more = assess(with_more(found.build, Chassis, "idle_w"), found.scenario)
    worth = row(found, "parts", "always")
    energy = (more.cost.energy - found.cost.energy) / STEP_W
    assert worth.money_over_years == pytest.approx(energy, rel=1e-4)
    kwh = (more.year.kwh - found.year.kwh) / STEP_W
    assert worth.kwh_per_year == pytest.approx(kwh, rel=1e-4)


def test_a_watt_asleep_is_what_the_evaluator_charges_for_standby(found) -> None:
    """Standby watts are drawn while drives sleep, and then alone."""
    more = assess(with_more(found.build, HardDrive, "standby_w"), found.scenario)
    energy = (more.cost.energy - found.cost.energy) / STEP_W
    roles = {drive.role for drive in found.machine.array}
    if len(roles) > 1 and len({d.item.key for d in found.machine.array}) > 1:
        pytest.skip("the items' share of the mean drive differs")
    worth = row(found, "parts", "asleep")
    assert worth.money_over_years == pytest.approx(energy, rel=1e-3, abs=1e-9)


def test_asleep_and_spinning_make_up_the_year(found) -> None:
    for where in ("parts", "wall"):
        always = row(found, where, "always")
        parts = [row(found, where, when) for when in ("asleep", "drives spinning")]
        for name in ("hours_per_year", "kwh_per_year", "money_per_year"):
            total = sum(getattr(part, name) for part in parts)
            assert total == pytest.approx(getattr(always, name))
    assert row(found, "wall", "always").hours_per_year == pytest.approx(HOURS_PER_YEAR)


def test_present_values_are_those_of_a_library(found) -> None:
    """npf.npv puts its first flow at today; payments fall at the end of each year."""
    money = found.scenario.money
    for worth in watt_worths(found):
        for years, value in (
            (5, worth.money_five_years),
            (money.years, worth.money_over_years),
        ):
            flows = [
                worth.money_per_year * (1 + money.tariff_growth) ** k
                for k in range(years)
            ]
            assert value == pytest.approx(npf.npv(money.discount, [0.0, *flows]))


def test_a_wall_watt_all_year_is_8_76_kwh(found) -> None:
    """One watt in a year of 8760 h; 400 g a kilowatt-hour is 3.504 kg."""
    worth = row(found, "wall", "always")
    assert worth.kwh_per_year == pytest.approx(8.76)
    assert worth.carbon_kg_per_year == pytest.approx(3.504)
    assert row(found, "parts", "always").marginal_factor > 1.0

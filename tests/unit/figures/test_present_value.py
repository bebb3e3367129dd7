"""The money of whole builds against numpy-financial."""

import numpy_financial as npf
import pytest

from optibox.scenario import Scenario
from tests.support.enumerate import best
from tests.support.parts import catalog_of, plain_parts

TERMS = ("purchase", "energy", "wear", "cache wear", "replacements", "resale")


def asked(**money) -> Scenario:
    return Scenario.model_validate(
        {
            "needs": {"usable_tb": 3, "failures_survived": 0},
            "limits": {"array_drives": 1},
            "money": {"tariff_per_kwh": 0.3, "terms": TERMS, **money},
            "choices": {
                "layouts": ("independent",),
                "caches": ("none",),
                "timeouts_min": (30,),
                "allow_never": False,
            },
        }
    )


@pytest.mark.parametrize(
    ("years", "discount", "growth", "back"),
    [
        (5, 0.0, 0.0, 0.0),
        (5, 0.05, 0.0, 0.3),
        (8, 0.03, 0.06, 0.2),
        (12, 0.1, -0.02, 0.5),
    ],
)
def test_cost_over_the_years_is_the_librarys_npv(years, discount, growth, back):
    """Flows at the year's end; the tariff grows, wear does not; resale at the very end.

    ``numpy_financial.npv`` puts the first value at today.
    """
    scenario = asked(
        years=years, discount=discount, tariff_growth=growth, resale_fraction=back
    )
    _, found = best(catalog_of(plain_parts().values()), scenario, "total cost")
    cost, first = found.cost, found.year.energy_money
    assert first == pytest.approx(0.3 * found.year.kwh)
    energy = [0.0] + [first * (1 + growth) ** k for k in range(years)]
    assert cost.energy == pytest.approx(npf.npv(discount, energy))
    # 100 for a drive, 50 000 starts: 0.002 a wake
    wear = found.year.operating.data.wakes * 100 / 50_000
    assert cost.wear == pytest.approx(npf.npv(discount, [0.0] + [wear] * years))
    # one drive in fifty fails in a year, at 100 a piece
    failures = [0.0] + [0.02 * 100] * years
    assert cost.replacements == pytest.approx(npf.npv(discount, failures))
    last = [0.0] * years + [back * cost.purchase]
    assert -cost.resale == pytest.approx(npf.npv(discount, last))
    flows = [-cost.purchase] + [
        -first * (1 + growth) ** k - wear - 2.0 for k in range(years)
    ]
    flows[-1] += back * cost.purchase
    assert found.total_cost == pytest.approx(-npf.npv(discount, flows))

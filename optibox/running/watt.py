"""What one watt is worth in a machine: money, energy and carbon, by when it is drawn.

A watt at the parts costs more than a watt at the wall, by the marginal factor of the
supply at the load of each state. A watt that is drawn always, and one that is drawn
only while all drives sleep (or only while they spin), fall into other hours of the
tariff.
"""

from dataclasses import dataclass
from typing import Literal

from optibox.assess import Assessment
from optibox.figures.power import loss_curve
from optibox.figures.terms import energy_annuity
from optibox.physics.money import annuity, carbon_kg
from optibox.physics.operation import StateYear
from optibox.physics.power import marginal_factor

When = Literal["always", "asleep", "drives spinning"]
WHENS: tuple[When, ...] = ("always", "asleep", "drives spinning")
FIVE_YEARS = 5
"""The years over which people compare watts, whatever a scenario counts."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WattWorth:
    """What one watt costs that is drawn at the parts, or at the wall."""

    where: Literal["parts", "wall"]
    when: When
    hours_per_year: float
    kwh_per_year: float
    """At the wall. [kWh]"""

    money_per_year: float
    """First year. [currency]"""

    money_five_years: float
    """Present value. [currency]"""

    money_over_years: float
    """Present value over the scenario's years. [currency]"""

    carbon_kg_per_year: float | None
    """Nothing where the scenario names no grams a kilowatt-hour. [kg]"""

    marginal_factor: float
    """Wall watts of one watt at the parts, as a mean over the hours. [W/W]"""


def watt_worths(found: Assessment) -> tuple[WattWorth, ...]:
    """Return what one watt is worth in a machine, for each place and time.

    Parameters
    ----------
    found : Assessment
        The machine under its scenario.

    Returns
    -------
    tuple of WattWorth
        At the parts and at the wall; always, asleep, drives spinning.
    """
    return tuple(
        _worth(found, where, when) for where in ("parts", "wall") for when in WHENS
    )


def _worth(found: Assessment, where: Literal["parts", "wall"], when: When) -> WattWorth:
    money, share = found.scenario.money, {"always": 1.0}
    hours = kwh = price = 0.0
    for state, row in zip(found.year.operating.states, found.year.states, strict=True):
        part = share.get(when, _share_of(found, state, when))
        factor = _factor(found, row.dc_w) if where == "parts" else 1.0
        hours += part * state.hours
        kwh += part * state.hours * factor / 1000.0
        price += part * state.money_per_w * factor
    five = annuity(FIVE_YEARS, money.discount, money.tariff_growth)
    grams = money.carbon_g_per_kwh
    return WattWorth(
        where=where,
        when=when,
        hours_per_year=hours,
        kwh_per_year=kwh,
        money_per_year=price,
        money_five_years=price * five,
        money_over_years=price * energy_annuity(money),
        carbon_kg_per_year=None if grams is None else carbon_kg(kwh, grams),
        marginal_factor=kwh * 1000.0 / hours if hours else 1.0,
    )


def _factor(found: Assessment, dc_w: float) -> float:
    supply = found.machine.supply
    return 1.0 if supply is None else marginal_factor(dc_w, loss_curve(supply))


def _share_of(found: Assessment, state: StateYear, when: When) -> float:
    """Return the share of a state's time that an array drive sleeps, or does not.

    The mean over data and parity drives: independent drives sleep one by one.
    """
    n_data = len(found.machine.in_role("data"))
    n_parity = len(found.machine.in_role("parity"))
    if not n_data + n_parity:
        return 0.0
    asleep = state.data.standby * n_data + state.parity.standby * n_parity
    asleep /= n_data + n_parity
    return asleep if when == "asleep" else 1.0 - asleep

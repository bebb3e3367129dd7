"""The axes of a frontier: what a build is compared by, with unit, sense, resolution."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from optibox.assess import Assessment

AxisName = Literal[
    "purchase",
    "running",
    "total cost",
    "kwh",
    "asleep",
    "ingest",
    "write",
    "read",
    "usable",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """One thing that people trade against others."""

    name: AxisName
    label: str
    """What it is called in tables and pictures."""
    unit: str
    """Unit of its values; empty for money, which has the scenario's currency."""
    key: str
    """Key in JSON and head of a CSV column, with the unit."""
    value_of: Callable[[Assessment], float]
    """The evaluator's value of it."""
    is_maximised: bool = False
    resolution: float = 1.0
    """Step below which two builds count as equal where the set is exact."""
    decimals: int = 0
    """Decimals in tables."""

    @property
    def is_money(self) -> bool:
        """Return whether its values are money."""
        return not self.unit.split("/")[0].strip()

    @property
    def sign(self) -> float:
        """Return -1 where more is better: what the sign makes is minimised."""
        return -1.0 if self.is_maximised else 1.0


_ALL: tuple[Axis, ...] = (
    Axis(
        name="purchase",
        label="Purchase",
        unit="",
        key="purchase_price",
        value_of=lambda found: found.cost.purchase,
    ),
    Axis(
        name="running",
        label="Running",
        unit="/year",
        key="running_price_per_year",
        value_of=lambda found: found.running_cost_per_year,
        decimals=1,
    ),
    Axis(
        name="total cost",
        label="Total",
        unit="",
        key="total_price",
        value_of=lambda found: found.total_cost,
    ),
    Axis(
        name="kwh",
        label="Energy",
        unit="kWh/year",
        key="energy_kwh_per_year",
        value_of=lambda found: found.year.kwh,
        resolution=0.1,
        decimals=1,
    ),
    Axis(
        name="asleep",
        label="Asleep",
        unit="W",
        key="asleep_w",
        value_of=lambda found: found.wall.asleep_w,
        resolution=0.1,
        decimals=1,
    ),
    Axis(
        name="ingest",
        label="Ingest",
        unit="MB/s",
        key="ingest_mb_s",
        value_of=lambda found: found.rates.ingest_mb_s,
        is_maximised=True,
    ),
    Axis(
        name="write",
        label="Write",
        unit="MB/s",
        key="write_mb_s",
        value_of=lambda found: found.rates.write_mb_s,
        is_maximised=True,
    ),
    Axis(
        name="read",
        label="Read",
        unit="MB/s",
        key="read_mb_s",
        value_of=lambda found: found.rates.read_mb_s,
        is_maximised=True,
    ),
    Axis(
        name="usable",
        label="Usable",
        unit="TB",
        key="usable_tb",
        value_of=lambda found: found.capacity.usable_tb,
        is_maximised=True,
        resolution=0.1,
        decimals=1,
    ),
)
AXES: Mapping[str, Axis] = {axis.name: axis for axis in _ALL}
"""Every axis by its name."""

DEFAULT_AXES: tuple[AxisName, ...] = ("purchase", "running", "ingest")


def axes_of(names: Sequence[str] = DEFAULT_AXES) -> tuple[Axis, ...]:
    """Return axes by their names.

    Raises
    ------
    KeyError
        If a name is none of ``AXES``.
    """
    return tuple(AXES[name] for name in names)


def values_of(found: Assessment, axes: Sequence[Axis]) -> tuple[float, ...]:
    """Return an assessment's values on some axes, each in the axis' unit."""
    return tuple(axis.value_of(found) for axis in axes)


def minimised(found: Assessment, axes: Sequence[Axis]) -> tuple[float, ...]:
    """Return an assessment's values with maximised axes negated."""
    return tuple(axis.sign * axis.value_of(found) for axis in axes)

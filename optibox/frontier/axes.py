"""Which criteria a frontier is drawn over, and the values of builds on them."""

from collections.abc import Sequence

from optibox.assess import Assessment
from optibox.criteria import AXES, Criterion

DEFAULT_AXES = ("purchase", "running", "ingest")


def axes_of(names: Sequence[str] = DEFAULT_AXES) -> tuple[Criterion, ...]:
    """Return axes by their names.

    Raises
    ------
    KeyError
        If a name is none of ``AXES``.
    """
    return tuple(AXES[name] for name in names)


def values_of(found: Assessment, axes: Sequence[Criterion]) -> tuple[float, ...]:
    """Return an assessment's values on some axes, each in the axis' unit."""
    return tuple(axis.value_of(found) for axis in axes)


def minimised(found: Assessment, axes: Sequence[Criterion]) -> tuple[float, ...]:
    """Return an assessment's values with maximised axes negated."""
    return tuple(axis.sign * axis.value_of(found) for axis in axes)

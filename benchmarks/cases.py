"""The questions that are timed, by name."""

from pathlib import Path

from optibox.catalog.catalog import Catalog
from optibox.scenario import Scenario, read_scenario

MIDDLING = "middling:"
"""Some fifty parts of the shipped catalog, drawn by a seed, with few operating choices:
what a flat program can still be written and solved for."""


NARROW = "narrow"
"""The whole shipped catalog with a narrow menu: few layouts, timeouts and drives. The
flat program of the whole menu takes longer to write than anyone waits."""

_FIVE_LINES = Path(__file__).parents[1] / "examples" / "five-lines.toml"
_NARROWER = (
    "limits.array_drives=4",
    "choices.layouts=['independent']",
    "choices.caches=['none']",
    "choices.timeouts_min=[10, 30]",
)


def case(name: str) -> tuple[Scenario, Catalog]:
    """Return a scenario and its catalog: a file, ``narrow``, or ``middling:SEED``."""
    if name == NARROW:
        return read_scenario(_FIVE_LINES, list(_NARROWER))
    if not name.startswith(MIDDLING):
        return read_scenario(name)
    from tests.support.middling import middling

    drawn = middling(int(name.removeprefix(MIDDLING)))
    return drawn.scenario, drawn.catalog

"""The cheapest build of a whole catalog at each price of a kWh, exact."""

import math
from collections.abc import Callable, Sequence

from optibox.assess import Assessment, assess
from optibox.frontier.envelope import Line, search_envelope
from optibox.frontier.records import Piece, Row, Span
from optibox.frontier.totals import FURTHEST, at_tariff, mean_price, tariff_line
from optibox.scenario import Scenario

TOLERANCE = 0.02
"""Two plans this close are the same: each is proven to a minor unit. [currency]"""

Cheapest = Callable[[Scenario], Assessment | None]


class UnknownError(Exception):
    """A search ended without proof."""


def tariff_pieces(
    scenario: Scenario, cheapest: Cheapest, rows: Sequence[Row] = ()
) -> tuple[Piece, ...]:
    """Return which build is the cheapest at which mean price of a kWh.

    Each break-point is searched anew: nothing of the catalog costs less there than the
    two builds that meet.

    Parameters
    ----------
    scenario : Scenario
        What is asked; its own mean price stands for 1.
    cheapest : callable
        Returns the build of least total cost of a scenario, proven; nothing where it
        could not be proven.
    rows : sequence of Row
        Rows whose numbers are told where a build is one of them.
    """
    most = FURTHEST * (mean_price(scenario.money) or 1.0)

    def lowest(mean: float) -> Line[Assessment]:
        found = cheapest(at_tariff(scenario, mean))
        if found is None:
            raise UnknownError
        return tariff_line(assess(found.build, scenario))

    try:
        stretches = search_envelope(lowest, 0.0, most, TOLERANCE)
    except UnknownError:
        return ()
    return tuple(
        Piece(
            span=Span(
                low=stretch.low, high=math.inf if stretch.high >= most else stretch.high
            ),
            assessment=stretch.line.payload,
            row=_row_of(stretch.line, rows),
        )
        for stretch in stretches
    )


def _row_of(line: Line[Assessment], rows: Sequence[Row]) -> int | None:
    for row in rows:
        own = tariff_line(row.assessment)
        if (
            abs(own.fixed - line.fixed) < TOLERANCE
            and abs(own.slope - line.slope) < 1e-6
        ):
            return row.number
    return None

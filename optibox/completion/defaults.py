"""The scenario that is taken where a build comes without one: nothing is asked for."""

from optibox.build.sketch import Sketch
from optibox.catalog.attachment import NetworkCard
from optibox.catalog.platform import Board, Medium
from optibox.scenario import Scenario

TARIFF_PER_KWH = 0.30
"""Price of a kWh where nobody gives one; judgement, to be replaced. [currency]"""

LEAST_TB, LEAST_GIB = 0.01, 0.25
"""The least that a scenario may ask for."""

MOST_DRIVES = 60


def plain_scenario(
    sketch: Sketch, currency: str = "", reserve: float | None = None
) -> Scenario:
    """Return a scenario that asks for nothing, with the usage that defaults describe.

    The other end of the network is taken to be as fast as this machine's fastest
    port and to have the same plug, so that nothing but the machine limits its rates.

    Parameters
    ----------
    sketch : Sketch
        The machine.
    currency : str
        Currency of its prices.
    reserve : float, optional
        Share of a drive that its file system keeps, where not the usual one.
    """
    gbit_s, medium = _fastest_port(sketch)
    return Scenario.model_validate(
        {
            "name": "no scenario given",
            "needs": {
                "usable_tb": LEAST_TB,
                "failures_survived": 0,
                "memory_gib": LEAST_GIB,
                "other_end_gbit_s": gbit_s,
                "other_end_medium": medium,
            },
            "limits": {"array_drives": MOST_DRIVES},
            "overrides": {} if reserve is None else {"filesystem_reserve": reserve},
            "money": {"tariff_per_kwh": TARIFF_PER_KWH, "currency": currency},
        }
    )


def _fastest_port(sketch: Sketch) -> tuple[float, Medium]:
    ports: list[tuple[float, Medium]] = []
    for entry in sketch.items:
        part = entry.item.part
        if isinstance(part, Board) and part.network_gbit_s:
            ports.append((part.network_gbit_s, part.network_medium))
        elif isinstance(part, NetworkCard):
            ports.append((part.network_gbit_s, part.medium))
    return max(ports, default=(1.0, "twisted pair"))

"""Rules of a supply's size and of a battery supply before it."""

from collections.abc import Iterator

from optibox.figures.power import ASLEEP, AT_REST, state_dc_w
from optibox.rules.context import Context
from optibox.rules.register import Finding, information, rule, warning
from optibox.units import HOURS_PER_YEAR

OVERSIZED = 8.0
"""Rating over idle load from which the fixed loss is worth a word; judgement."""

WATTS_PER_VA = 0.6
"""What small battery supplies give for each VA; common practice, no source. [W/VA]"""

DIRTY_SHARE = 0.2
"""Share of the memory that can wait to be written; a common default, from memory."""

STOP_MIN = 3.0
"""Time to stop services, flush and park drives; judgement. [min]"""

MB_PER_GIB = 1073.741824
_SECONDS_PER_MINUTE = 60.0


@rule(
    "P4",
    "The supply is not far too large",
    "A large supply loses the same few watts day and night, whatever it feeds.",
    severities=("information",),
    remedy="A smaller supply, or one with less loss at no load, saves most of it.",
)
def oversized(context: Context) -> Iterator[Finding]:
    """Yield information where the rating is above eight times the idle load."""
    supply = context.machine.supply
    if supply is None:
        return
    idle = state_dc_w(context.machine, ASLEEP, ASLEEP, AT_REST)
    rated = supply.rated_w.mid
    if rated > OVERSIZED * idle > 0:
        fixed = supply.loss_fixed_w.mid
        kwh = fixed * HOURS_PER_YEAR / 1000.0
        prices = context.scenario.money.prices_by_hour()
        price = kwh * sum(prices) / len(prices)
        yield information(
            "P4",
            f"{supply.name} is rated {rated:.0f} W for {idle:.0f} W at idle; its fixed "
            f"loss of {fixed:.1f} W takes {kwh:.0f} kWh a year, {price:.2f} at the tariff",
        )


@rule(
    "P6",
    "The battery supply carries machine and stop",
    "A battery supply that cannot carry the spin-up switches off at once; one that ends "
    "before the stop does is none.",
    severities=("warning",),
    remedy="Use a larger one, or start the stop earlier.",
)
def battery(context: Context) -> Iterator[Finding]:
    """Yield warnings where a stated battery supply is too weak or too short."""
    around = context.machine.build.around
    peak = context.wall.peak_w
    if around.ups_va is not None and peak > around.ups_va * WATTS_PER_VA:
        yield warning(
            "P6",
            f"{peak:.0f} W at the worst instant, {around.ups_va:.0f} VA give about "
            f"{around.ups_va * WATTS_PER_VA:.0f} W",
        )
    if around.ups_minutes is None:
        return
    wanted = stop_minutes(context)
    if around.ups_minutes < wanted:
        yield warning(
            "P6",
            f"the battery lasts {around.ups_minutes:g} min, writing what memory holds "
            f"and stopping takes {wanted:.1f} min",
        )


def stop_minutes(context: Context) -> float:
    """Return the time to write what memory holds and to stop. [min]."""
    dirty_mb = context.machine.memory_gib * MB_PER_GIB * DIRTY_SHARE
    rate = context.rates.write_mb_s
    flush = dirty_mb / rate / _SECONDS_PER_MINUTE if rate > 0 else 0.0
    return STOP_MIN + flush

"""The figures of a checked machine: capacity, rates, power, currents, places, risk."""

from collections.abc import Iterator, Mapping

from optibox.figures.parts_power import STATES, Band
from optibox.figures.risk import BIT_ERROR_RATES, NOT_COUNTED, Risk
from optibox.report.check_facts import (
    ChainRow,
    CheckReport,
    chain_rows,
    currents_block,
    place_rows,
    power_of,
    risk_block,
)
from optibox.report.document import (
    Block,
    Column,
    Item,
    Items,
    Note,
    Row,
    Table,
    notes,
)
from optibox.report.figures import fill_words
from optibox.report.quantity import (
    AMPERE,
    ENERGY,
    WATT,
    Unit,
    both_capacities,
    chance,
    hours,
    money,
    number,
    rate,
    sum_of,
    terabytes,
)
from optibox.report.run_line import layout_words
from optibox.report.settings import Setting, settings_of
from optibox.report.words import and_list, capital, counted
from optibox.rules.currents import Currents
from optibox.wiring.words import several

_BAR = 30
"""Letters of the longest bar of the capacity ladder."""


def capacity_blocks(report: CheckReport) -> Iterator[Block]:
    """Yield the capacity ladder, each step with a bar as long as what is left."""
    ladder = report.found.capacity
    rows = (
        ("printed on the drives", ladder.printed_tb),
        ("held by their sectors", ladder.held_tb),
        ("after redundancy", ladder.array_tb),
        ("after the file system's reserve", ladder.file_system_tb),
        ("to be filled with files", ladder.usable_tb),
    )
    top = max(tb for _, tb in rows) or 1.0
    yield Table(
        columns=(
            Column(flow="keep"),
            Column(is_right=True, flow="keep"),
            Column(flow="keep", spared=1),
        ),
        rows=tuple(
            Row(cells=(name, both_capacities(tb), "#" * round(_BAR * tb / top)))
            for name, tb in rows
        ),
    )
    if ladder.wasted_tb > 0:
        yield Note(f"{terabytes(ladder.wasted_tb)} of larger drives cannot be used")


def chain_blocks(report: CheckReport) -> Iterator[Block]:
    """Yield every operation with its binding stage and what removing it would bring."""
    found = report.found
    yield Note(f"drives {fill_words(found.scenario.needs.fill_fraction)}")
    yield Items(
        tuple(
            Item(
                text=f"{row.operation}: {rate(row.rate_mb_s)} by {and_list(row.binding)}",
                details=(_gain(row), f"all stages: {_stages(row)}"),
            )
            for row in chain_rows(found)
        )
    )
    times = [f"one full check: {hours(found.year.transfers.check_h)}"]
    if found.machine.operation.failures_survived:
        times.append(f"rebuild of one drive: {hours(found.rebuild_h)}")
    yield notes(times)


def _stages(row: ChainRow) -> str:
    return "; ".join(f"{s.name} {number(s.rate_mb_s)}" for s in row.stages)


def _gain(row: ChainRow) -> str:
    if row.next is None or row.gain_mb_s is None:
        return "nothing else limits it"
    return (
        f"without that: {rate(row.next.rate_mb_s)}, {rate(row.gain_mb_s)} more, then set "
        f"by {row.next.name}"
    )


def power_blocks(report: CheckReport) -> Iterator[Block]:
    """Yield the power of each part in each state, the sums, and bounds with sources."""
    table = power_of(report.found)
    parts = sorted(table.parts, key=lambda row: -row.watts["asleep"].mid)
    rows = [(f"{row.count} x {row.name}", _mids(row.watts)) for row in parts]
    if table.deep_idle.mid:
        lost = [table.deep_idle.mid] * len(STATES)
        rows.append(("no deep sleep: a card blocks it", lost))
    rows.append(("lost in the supply", [table.loss_w(state) for state in STATES]))
    rows.append(("at the wall", _mids(table.wall)))
    ends = [table.wall[state] for state in STATES]
    rows.append(("at the wall, at least", [band.low for band in ends]))
    rows.append(("at the wall, at most", [band.high for band in ends]))
    yield Table(
        columns=(
            Column(least=11),
            *(
                Column(head=state, unit=WATT, spared=int(state == "writing"))
                for state in STATES
            ),
        ),
        rows=tuple(Row(cells=(name, *cells)) for name, cells in rows),
    )
    yield Note(
        "Parts draw DC watts. Bounds: all parts and the supply at their low figures, or "
        "all at their high ones. A part that is taken out saves its watts times "
        f"{number(_marginal(report), 2)} at the wall."
    )
    yield Table(
        columns=(
            Column(least=16),
            Column(head="asleep\nW", is_right=True, flow="keep"),
            Column(head="checking\nW", is_right=True, flow="keep"),
            Column(head="from"),
        ),
        rows=tuple(
            Row(
                cells=(
                    f"{row.count} x {row.name}",
                    *(_fine(row.watts[state]) for state in ("asleep", "checking")),
                    row.source,
                )
            )
            for row in parts
        ),
    )


def _mids(watts: Mapping[str, Band]) -> list[float]:
    return [watts[state].mid for state in STATES]


def _fine(band: Band) -> str:
    return f"{number(band.low, 1)}..{number(band.high, 1)}"


def _marginal(report: CheckReport) -> float:
    """Return what one DC watt costs at the wall, all drives asleep."""
    supply = report.found.machine.supply
    if supply is None or not supply.rated_w.mid:
        return 1.0
    dc_w = power_of(report.found).dc["asleep"].mid
    square = 2 * supply.loss_square.mid * dc_w / supply.rated_w.mid
    return 1 + supply.loss_share.mid + square


def current_blocks(report: CheckReport) -> Iterator[Block]:
    """Yield the rails by how many drives start together, then every lead."""
    found = currents_block(report.found)
    if found is None:
        yield Note("no supply")
        return
    yield Note(
        f"12 V rail {number(found.rail_12v_a, 1)} A, of which "
        f"{number(found.planned_12v_a, 1)} A to plan with; 5 V rail "
        f"{number(found.rail_5v_a, 1)} A; all but the drives take up to "
        f"{number(found.base_12v_a, 1)} A on 12 V"
    )
    yield _groups(found)
    yield notes(_leads(found))


def _groups(found: Currents) -> Table:
    def judged(amperes: float) -> str:
        if amperes > found.rail_12v_a:
            return "too much"
        return "above the planned share" if amperes > found.planned_12v_a else "fits"

    return Table(
        columns=(
            Column(head="start at once", flow="keep"),
            Column(head="12 V", unit=AMPERE),
            Column(flow="keep"),
            Column(head="5 V", unit=AMPERE),
        ),
        rows=tuple(
            Row(
                cells=(
                    *(counted(row.group, "drive"), row.on_12v_a),
                    *(judged(row.on_12v_a), row.on_5v_a),
                )
            )
            for row in found.groups
        ),
    )


def _leads(found: Currents) -> Iterator[str]:
    for row in (*found.leads, *found.adapters):
        yield (
            f"{row.name}: {several(row.feeds)}, {number(row.on_12v_a, 1)} A on 12 V at a "
            f"start ({number(row.at_work_12v_a, 1)} A at work), "
            f"{number(row.on_5v_a, 1)} A on 5 V, at most {number(row.most_a, 1)} A"
        )


def place_blocks(report: CheckReport) -> Iterator[Block]:
    """Yield ports, bays and slots with their use."""
    rows = place_rows(report.found)
    yield Table(
        columns=(Column(flow="keep"), Column(flow="keep"), Column()),
        rows=tuple(
            Row(cells=(row.name, f"{row.used} of {row.have}", row.words))
            for row in rows
        ),
    )


def year_blocks(report: CheckReport) -> Iterator[Block]:
    """Yield the states of a year with hours, watts at the wall, energy and price."""
    found, currency = report.found, report.currency
    yield Table(
        columns=(
            Column(flow="keep"),
            Column(head="lasts", unit=Unit("h")),
            Column(head="at the wall", unit=WATT),
            Column(head="energy", unit=ENERGY.fine(1)),
            Column(head="price", unit=sum_of(currency)),
        ),
        rows=tuple(
            Row(cells=(row.name, row.hours, row.wall_w, row.kwh, row.money))
            for row in found.year.states
        ),
    )
    yield Note(
        f"together: {number(found.year.kwh)} kWh, "
        f"{money(found.year.energy_money, currency)}; with wear "
        f"{money(found.running_cost_per_year, currency)}"
    )


def setting_blocks(report: CheckReport) -> Iterator[Block]:
    """Yield what each setting would bring, changed alone, then all together."""
    rows = settings_of(report.found)
    now = f"now: {layout_words(report.found)}"
    yield notes([now, *(setting_words(row, report.currency) for row in rows)])


def setting_words(row: Setting, currency: str) -> str:
    """Return one setting in words."""
    if row.is_best:
        return f"{row.name} {row.now}: no other does better"
    mended = f", {counted(row.n_errors, 'error')} fewer" if row.n_errors > 0 else ""
    word = "saved" if row.gain >= 0 else "more spent"
    energy = f"{number(abs(row.kwh_saved), 1)} kWh a year "
    energy += "saved" if row.kwh_saved >= 0 else "more"
    return (
        f"{row.name} {row.now} -> {row.best}: {money(abs(row.gain), currency)} {word} "
        f"over the years, {energy}, writes {rate(row.write_mb_s)}{mended}"
    )


def risk_blocks(report: CheckReport) -> Iterator[Block]:
    """Yield the chances of losing data as a band, and what is not in them."""
    risk = risk_block(report.found)
    yield notes(["no array drives"] if risk is None else risk_words(risk))


def risk_words(risk: Risk) -> Iterator[str]:
    """Yield the risk block as sentences."""
    best, worst = BIT_ERROR_RATES[0], BIT_ERROR_RATES[-1]
    low, mid, high = (
        risk.case("low", best), risk.case("mid", BIT_ERROR_RATES[1]),
        risk.case("high", worst),
    )  # fmt: skip
    repair = ""
    if risk.survives:
        repair = (
            f"; a failed drive is replaced and rebuilt after {hours(risk.repair_h)} "
            f"({hours(risk.rebuild_h)} of it the rebuild)"
        )
    yield (
        f"within {counted(risk.years, 'year')}, survives "
        f"{counted(risk.survives, 'failed drive')}{repair}"
    )
    yield (
        f"one failure too many: {chance(mid.loss.too_many_failures)} "
        f"({chance(low.loss.too_many_failures)} to {chance(high.loss.too_many_failures)}"
        " over the drives' failure rates)"
    )
    if risk.survives:
        yield (
            "an unreadable sector during a rebuild: "
            f"{chance(mid.loss.unreadable_sector)} "
            f"({chance(low.loss.unreadable_sector)} to "
            f"{chance(high.loss.unreadable_sector)} over failure rates and bit error "
            "rates of 1e-16 to 1e-14; a datasheet's rate is a ceiling)"
        )
    yield (
        "mean time to data loss by the textbook formula, which takes failures to be "
        f"independent and is optimistic: {number(risk.mttdl_years)} years"
    )
    yield (
        f"expected loss: {_tb(mid.tb_lost)} ({_tb(low.tb_lost)} to {_tb(high.tb_lost)}); "
        f"one failure too many takes {terabytes(risk.tb_by_failures)}"
    )
    yield (
        f"{capital(NOT_COUNTED)} are not in these figures, and failures are taken to be "
        "independent, which they are not. Parity is not a backup."
    )


def _tb(value: float) -> str:
    if value >= 0.1:
        return terabytes(value)
    gb = value * 1000
    return f"{number(gb, 1 if gb >= 0.1 else 0)} GB" if gb >= 0.1 else "below 0.1 GB"

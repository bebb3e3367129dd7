"""The figures of a checked machine as lines of text."""

from collections.abc import Iterator, Sequence

from optibox.figures.parts_power import STATES, Band, PartPower
from optibox.figures.risk import BIT_ERROR_RATES, NOT_COUNTED, Risk
from optibox.present.check_report import (
    ChainRow,
    CheckReport,
    chain_rows,
    currents_block,
    place_rows,
    power_of,
    risk_block,
)
from optibox.present.check_settings import Setting, settings_of
from optibox.present.figures_table import fill_words
from optibox.present.order_text import MARGIN
from optibox.present.run_line import layout_words
from optibox.present.words import cut, pad, pad_left, width_of, wrapped
from optibox.report.quantity import (
    both_capacities,
    chance,
    hours,
    money,
    number,
    rate,
    terabytes,
)
from optibox.report.words import and_list, capital, clean, counted
from optibox.rules.currents import Currents
from optibox.wiring.words import several

_BAR = 30
"""Columns of the longest bar of the capacity ladder."""


def capacity_lines(report: CheckReport, width: int) -> Iterator[str]:
    """Yield the capacity ladder, each step with a bar as long as what is left."""
    ladder = report.found.capacity
    rows = [
        ("printed on the drives", ladder.printed_tb),
        ("held by their sectors", ladder.held_tb),
        ("after redundancy", ladder.array_tb),
        ("after the file system's reserve", ladder.file_system_tb),
        ("to be filled with files", ladder.usable_tb),
    ]
    longest = max(width_of(label) for label, _ in rows)
    top = max((tb for _, tb in rows), default=0.0) or 1.0
    room = min(_BAR, width - len(MARGIN) - longest - 26)
    for label, tb in rows:
        bar = "#" * round(max(0, room) * tb / top)
        text = f"{MARGIN}{pad(label, longest)}  {pad_left(both_capacities(tb), 22)}"
        yield f"{text}  {bar}".rstrip()
    if ladder.wasted_tb > 0:
        text = f"{terabytes(ladder.wasted_tb)} of larger drives cannot be used"
        yield from wrapped(text, width, MARGIN)


def chain_lines(report: CheckReport, width: int) -> Iterator[str]:
    """Yield every operation with its binding stage and what removing it would bring."""
    fill = report.found.scenario.needs.fill_fraction
    yield f"{MARGIN}drives {fill_words(fill)}"
    for row in chain_rows(report.found):
        head = f"{row.operation}: {rate(row.rate_mb_s)} by {_names(row.binding)}"
        yield from wrapped(head, width, MARGIN, MARGIN * 2)
        yield from wrapped(_gain(row), width, MARGIN * 3)
        stages = "; ".join(f"{clean(s.name)} {number(s.rate_mb_s)}" for s in row.stages)
        yield from wrapped(f"all stages: {stages}", width, MARGIN * 3)
    times = report.found.year.transfers
    yield f"{MARGIN}one full check: {hours(times.check_h)}"
    if report.found.machine.operation.failures_survived:
        yield f"{MARGIN}rebuild of one drive: {hours(report.found.rebuild_h)}"


def _names(names: Sequence[str]) -> str:
    return and_list(clean(name) for name in names)


def _gain(row: ChainRow) -> str:
    if row.next is None or row.gain_mb_s is None:
        return "nothing else limits it"
    return (
        f"without that: {rate(row.next.rate_mb_s)}, {rate(row.gain_mb_s)} more, then set "
        f"by {clean(row.next.name)}"
    )


def power_lines(report: CheckReport, width: int) -> Iterator[str]:
    """Yield the power of each part in each state, the sums, and bounds with sources."""
    table = power_of(report.found)
    rows = sorted(table.parts, key=lambda r: -r.watts["asleep"].mid)
    yield _power_row("", STATES, width)
    for row in rows:
        yield _power_row(_piece(row), [_mid(row.watts[s]) for s in STATES], width)
    if table.deep_idle.mid:
        lost = [_mid(table.deep_idle)] * len(STATES)
        yield _power_row("no deep sleep: a card blocks it", lost, width)
    losses = [number(table.loss_w(state), 1) for state in STATES]
    yield _power_row("lost in the supply", losses, width)
    yield _power_row("at the wall", [_mid(table.wall[s]) for s in STATES], width)
    yield _power_row("  from .. to", [_bounds(table.wall[s]) for s in STATES], width)
    yield from wrapped(
        "Bounds: all parts and the supply at their low figures, or all at their high "
        "ones. A part that is taken out saves its watts times "
        f"{number(_marginal(report), 2)} at the wall.",
        width,
        MARGIN,
    )
    for row in rows:
        asleep, busy = (_fine(row.watts[state]) for state in ("asleep", "checking"))
        text = (
            f"{_piece(row)}: {asleep} W asleep, {busy} W checking; {clean(row.source)}"
        )
        yield from wrapped(text, width, MARGIN, MARGIN * 2)


def _power_row(label: str, cells: Sequence[str], width: int) -> str:
    """Return a label with a column for each state."""
    column = 10 if width >= 80 else 9
    room = max(12, min(40, width - len(MARGIN) - column * len(cells)))
    texts = "".join(pad_left(cell, column) for cell in cells)
    return f"{MARGIN}{pad(cut(label, room), room)}{texts}"


def _piece(row: PartPower) -> str:
    return f"{row.count} x {clean(row.name)}"


def _mid(band: Band) -> str:
    return number(band.mid, 1)


def _fine(band: Band) -> str:
    return f"{number(band.low, 1)}..{number(band.high, 1)}"


def _bounds(band: Band) -> str:
    return f"{number(band.low)}..{number(band.high)}"


def _marginal(report: CheckReport) -> float:
    """Return what one DC watt costs at the wall, all drives asleep."""
    machine = report.found.machine
    supply = machine.supply
    if supply is None or not supply.rated_w.mid:
        return 1.0
    dc_w = power_of(report.found).dc["asleep"].mid
    square = 2 * supply.loss_square.mid * dc_w / supply.rated_w.mid
    return 1 + supply.loss_share.mid + square


def current_lines(report: CheckReport, width: int) -> Iterator[str]:
    """Yield the rails by how many drives start together, then every lead."""
    found = currents_block(report.found)
    if found is None:
        yield f"{MARGIN}no supply"
        return
    text = (
        f"12 V rail {number(found.rail_12v_a, 1)} A, of which "
        f"{number(found.planned_12v_a, 1)} A to plan with; 5 V rail "
        f"{number(found.rail_5v_a, 1)} A; all but the drives take up to "
        f"{number(found.base_12v_a, 1)} A on 12 V"
    )
    yield from wrapped(text, width, MARGIN, MARGIN * 2)
    yield from _groups(found, width)
    for row in (*found.leads, *found.adapters):
        drives = clean(several(row.feeds))
        text = (
            f"{clean(row.name)}: {drives}, {number(row.on_12v_a, 1)} A on 12 V at a "
            f"start ({number(row.at_work_12v_a, 1)} A at work), "
            f"{number(row.on_5v_a, 1)} A on 5 V, at most {number(row.most_a, 1)} A"
        )
        yield from wrapped(text, width, MARGIN, MARGIN * 2)


def _groups(found: Currents, width: int) -> Iterator[str]:
    for row in found.groups:
        over = row.on_12v_a > found.rail_12v_a
        tight = row.on_12v_a > found.planned_12v_a
        words = "too much" if over else "above the planned share" if tight else "fits"
        count = pad_left(counted(row.group, "drive"), 10)
        text = (
            f"{MARGIN}{count} at once: {pad_left(number(row.on_12v_a, 1), 5)} A on 12 V"
            f" ({words}), {number(row.on_5v_a, 1)} A on 5 V"
        )
        yield from fitted(text, width)


def place_lines(report: CheckReport, width: int) -> Iterator[str]:
    """Yield ports, bays and slots with their use."""
    rows = list(place_rows(report.found))
    longest = max((width_of(row.name) for row in rows), default=0)
    for row in rows:
        words = f"  {row.words}" if row.words else ""
        text = f"{pad(row.name, longest)}  {row.used} of {row.have}{words}"
        yield from fitted(f"{MARGIN}{text}", width)


def fitted(line: str, width: int) -> Iterator[str]:
    """Yield a line as it is where it fits, else wrapped."""
    if width_of(line) <= width:
        yield line.rstrip()
    else:
        yield from wrapped(line, width, MARGIN, MARGIN * 2)


def year_lines(report: CheckReport, width: int) -> Iterator[str]:
    """Yield the states of a year with hours, watts at the wall, energy and price."""
    found = report.found
    for row in found.year.states:
        text = (
            f"{MARGIN}{pad(row.name, 10)}{pad_left(number(row.hours), 6)} h at "
            f"{pad_left(number(row.wall_w, 1), 6)} W{pad_left(number(row.kwh, 1), 8)} kWh"
            f"  {money(row.money, report.currency)}"
        )
        yield from fitted(text, width)
    total = (
        f"together: {number(found.year.kwh)} kWh, "
        f"{money(found.year.energy_money, report.currency)}; with wear "
        f"{money(found.running_cost_per_year, report.currency)}"
    )
    yield from wrapped(total, width, MARGIN)


def setting_lines(report: CheckReport, width: int) -> Iterator[str]:
    """Yield what each setting would bring, changed alone, then all together."""
    yield from wrapped(f"now: {layout_words(report.found)}", width, MARGIN)
    for row in settings_of(report.found):
        text = setting_words(row, report.currency)
        yield from wrapped(text, width, MARGIN, MARGIN * 2)


def setting_words(row: Setting, currency: str) -> str:
    """Return one setting in words."""
    if row.is_best:
        return f"{row.name} {row.now}: no other does better"
    mended = f", {counted(row.n_errors, 'error')} fewer" if row.n_errors > 0 else ""
    gain = money(abs(row.gain), currency)
    word = "saved" if row.gain >= 0 else "more spent"
    energy = f"{number(abs(row.kwh_saved), 1)} kWh a year "
    energy += "saved" if row.kwh_saved >= 0 else "more"
    return (
        f"{row.name} {row.now} -> {row.best}: {gain} {word} over the years, {energy}, "
        f"writes {rate(row.write_mb_s)}{mended}"
    )


def risk_lines(report: CheckReport, width: int) -> Iterator[str]:
    """Yield the chances of losing data as a band, and what is not in them."""
    risk = risk_block(report.found)
    if risk is None:
        yield f"{MARGIN}no array drives"
        return
    for text in risk_words(risk):
        yield from wrapped(text, width, MARGIN, MARGIN * 2)


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

"""The question in words: what a scenario needs, allows, does and pays."""

from collections.abc import Iterator

from optibox.report.quantity import both_capacities, clock, number
from optibox.report.words import and_list, clean, counted
from optibox.scenario import Scenario


def question(scenario: Scenario, currency: str) -> list[tuple[str, str]]:
    """Return the question as paragraphs, each under a word that says what it is."""
    rows = (
        ("Needs", _sentence(_needs(scenario))),
        ("Limits", _sentence(_limits(scenario, currency))),
        ("Use", _sentence(_usage(scenario))),
        ("Money", _sentence(_money(scenario, currency))),
        ("At hand", _sentence(_owned(scenario))),
    )
    return [(title, text) for title, text in rows if text]


def _sentence(pieces: Iterator[str]) -> str:
    text = "; ".join(clean(piece) for piece in pieces)
    return f"{text[:1].upper()}{text[1:]}." if text else ""


def _needs(scenario: Scenario) -> Iterator[str]:
    needs = scenario.needs
    yield f"hold {both_capacities(needs.capacity_tb)} of files"
    failures = needs.failures_survived
    yield (
        f"survive {counted(failures, 'failed drive')}"
        if failures
        else "no failed drive need be survived"
    )
    if needs.read_mb_s:
        yield f"read a file at {needs.read_mb_s:g} MB/s"
    if needs.write_mb_s:
        yield f"write for hours at {needs.write_mb_s:g} MB/s"
    if needs.ingest_mb_s:
        burst = f"{number(scenario.burst_gb)} GB"
        yield f"take in {burst} at {needs.ingest_mb_s:g} MB/s"
    yield f"{needs.memory_gib:g} GiB of memory"
    flags = {
        "corrected memory errors": needs.ecc,
        "remote management": needs.management,
        "encryption": needs.encryption,
        "drives changed while running": needs.hot_swap,
    }
    yield from (words for words, is_asked in flags.items() if is_asked)


def _limits(scenario: Scenario, currency: str) -> Iterator[str]:
    limits = scenario.limits
    rows = (
        ("spend at most", limits.budget, f" {currency}"),
        ("at most over the years", limits.total_cost, f" {currency}"),
        ("at most a year", limits.annual_kwh, " kWh"),
        ("asleep at most", limits.asleep_w, " W"),
        ("spinning at most", limits.spinning_w, " W"),
        ("at the worst instant at most", limits.peak_w, " W"),
        ("in a rack, at most", limits.rack_units, " U"),
    )
    for words, value, unit in rows:
        if value is not None:
            yield f"{words} {number(value, 2).removesuffix('.00')}{unit}"
    if limits.shape:
        yield f"a {limits.shape}"
    if "array_drives" in limits.model_fields_set:
        yield f"at most {counted(limits.array_drives, 'array drive')}"


def _usage(scenario: Scenario) -> Iterator[str]:
    usage = scenario.usage
    yield (
        f"{number(usage.ingest_gb_per_day)} GB come in a day, at "
        f"{clock(usage.ingest_hour)}"
    )
    if usage.spinning_fraction is not None:
        yield f"each drive spins {usage.spinning_fraction * 100:g} % of the time"
    else:
        accesses = counted(usage.accesses_per_session, "file")
        gap = f", {usage.minutes_between:g} min apart"
        apart = gap if usage.accesses_per_session > 1 else ""
        times = f"{usage.sessions_per_day:g} times a day"
        yield f"somebody reads {times}, {accesses} each time{apart}"
    yield f"{usage.checks_per_year:g} full checks a year"


def _money(scenario: Scenario, currency: str) -> Iterator[str]:
    money = scenario.money
    per = f"{currency} a kWh".strip()
    bands = [
        f"{band.price_per_kwh:g} from {clock(band.from_hour)} to {clock(band.to_hour)}"
        + ("" if band.days == "all" else f" on {_days(band.days)}")
        for band in money.bands
    ]
    if money.tariff_per_kwh is not None:
        base = f"{money.tariff_per_kwh:g} {per}"
        yield f"{base}, {and_list(bands)}" if bands else base
    else:
        yield f"{and_list(bands)} {per}"
    yield f"counted over {counted(money.years, 'year')}"
    if money.tariff_growth:
        yield f"tariff grows {money.tariff_growth * 100:g} % a year"
    if money.discount:
        yield f"later money discounted by {money.discount * 100:g} % a year"


def _days(days: str) -> str:
    return "the weekend" if days == "weekend" else days


def _owned(scenario: Scenario) -> Iterator[str]:
    pieces = sum(owned.count for owned in scenario.owned)
    if pieces:
        yield f"{counted(pieces, 'part')} there already, free to use"
    if scenario.ban:
        yield f"ruled out: {and_list(scenario.ban)}"
    if scenario.insist:
        yield f"insisted on: {and_list(scenario.insist)}"

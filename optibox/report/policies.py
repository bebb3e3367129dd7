"""Spin-down policies in words and as rows of figures."""

from collections.abc import Iterable, Mapping, Sequence
from itertools import groupby
from typing import Any

from optibox.report.document import Column, Row, Value, Worded
from optibox.report.quantity import SECOND, SHARE, Unit, cents_of, number
from optibox.report.words import and_list
from optibox.running.policy import Policy, PolicyRow

_CACHES = {
    "none": "no cache",
    "single": "single cache drive",
    "mirror": "mirrored cache",
}


def timeout_words(timeout_min: float | None) -> str:
    """Return a timeout as it stands in a table.

    Examples
    --------
    >>> timeout_words(10.0), timeout_words(None)
    ('10 min', 'never')
    """
    return "never" if timeout_min is None else f"{timeout_min:g} min"


def stop_words(timeout_min: float | None) -> str:
    """Return what drives do under a timeout.

    Examples
    --------
    >>> stop_words(10.0), stop_words(None)
    ('drives stop after 10 min', 'drives never stop')
    """
    if timeout_min is None:
        return "drives never stop"
    return f"drives stop after {timeout_min:g} min"


def kind_words(policy: Policy) -> str:
    """Return write mode and cache of a policy.

    Examples
    --------
    >>> kind_words(Policy(timeout_min=5, write_mode="plain", cache="mirror"))
    'mirrored cache'
    """
    cache = _CACHES[policy.cache]
    return cache if policy.write_mode == "plain" else f"{policy.write_mode}, {cache}"


def policy_words(policy: Policy, other: Policy | None = None) -> str:
    """Return a policy; beside another one only what differs, timeout always."""
    words = [stop_words(policy.timeout_min)]
    is_new = other is None or other.write_mode != policy.write_mode
    if policy.write_mode != "plain" and is_new:
        words.append(policy.write_mode)
    if other is None or other.cache != policy.cache:
        words.append(_CACHES[policy.cache])
    return ", ".join(words)


def drives_words(names: Sequence[str]) -> str:
    """Return names of drives, rows of numbers from the first to the last.

    Examples
    --------
    >>> drives_words(["data-1", "data-2", "data-3", "data-7", "odd"])
    'data-1 to data-3, data-7 and odd'
    """
    words: list[str] = []
    for _, run in groupby(enumerate(map(_numbered, names)), key=_run_key):
        row = [f"{stem}{number}" if number else stem for _, (stem, number) in run]
        words += [f"{row[0]} to {row[-1]}"] if len(row) > 2 else row
    return and_list(words)


def _numbered(name: str) -> tuple[str, int]:
    stem = name.rstrip("0123456789")
    digits = name[len(stem) :]
    return (stem, int(digits)) if digits and digits[0] != "0" else (name, 0)


def _run_key(place: tuple[int, tuple[str, int]]) -> tuple[str, int]:
    index, (stem, number) = place
    return stem, number - index if number else 0


def range_words(timeouts_min: Sequence[float | None]) -> str:
    """Return timeouts from the shortest to the longest.

    Examples
    --------
    >>> range_words([10, 15, None]), range_words([10]), range_words([5, 10])
    ('any from 10 min on, and never', '10 min alone', '5 to 10 min')
    """
    minutes = sorted(t for t in timeouts_min if t is not None)
    if not minutes:
        return "never alone"
    if len(minutes) < len(timeouts_min):
        return f"any from {number(minutes[0])} min on, and never"
    if len(minutes) == 1:
        return f"{number(minutes[0])} min alone"
    return f"{number(minutes[0])} to {number(minutes[-1])} min"


def figure_columns(currency: str) -> tuple[Column, ...]:
    """Return the columns of a policy's figures.

    Narrow terminals go without the load/unload rating, the price of energy, the longest
    wait, the price of wear and the hours waited, in this order.
    """
    hours, yearly = Unit("h/day", 1), Unit("/year")
    price = Unit(f"{currency}/year", 2, is_money=True)
    return (
        Column(head="stop\nafter", key="timeout_min", flow="keep"),
        Column(key="write_mode", is_shown=False),
        Column(key="cache", is_shown=False),
        Column(head="data\nspins", key="data_spinning_h_per_day", unit=hours),
        Column(head="parity\nspins", key="parity_spinning_h_per_day", unit=hours),
        Column(head="data\nwakes", key="data_wakes_per_year", unit=yearly),
        Column(head="parity\nwakes", key="parity_wakes_per_year", unit=yearly),
        Column(head="starts\nused", key="start_stop_used_fraction", unit=SHARE),
        Column(
            head="loads\nused", key="load_unload_used_fraction", unit=SHARE, spared=1
        ),
        Column(head="energy", key="kwh_per_year", unit=Unit("kWh/year")),
        Column(head="energy", key="energy_price_per_year", unit=price, spared=2),
        Column(head="wear", key="wear_price_per_year", unit=price, spared=4),
        Column(
            head="waited", key="waited_h_per_year", unit=Unit("h/year", 1), spared=5
        ),
        Column(head="wait", key="longest_wait_s", unit=SECOND, spared=3),
        Column(key="write_mb_s", is_shown=False),
        Column(head="total", key="total_price", unit=cents_of(currency)),
    )


def figures(row: PolicyRow) -> dict[str, Any]:
    """Return a policy with its figures, the unit in each key."""
    roles = [role for role in (row.data, row.parity) if role]
    parity = row.parity
    return {
        "timeout_min": row.policy.timeout_min,
        "write_mode": row.policy.write_mode,
        "cache": row.policy.cache,
        "data_spinning_h_per_day": row.data.spinning_h_per_day,
        "parity_spinning_h_per_day": parity.spinning_h_per_day if parity else None,
        "data_wakes_per_year": row.data.wakes_per_year,
        "parity_wakes_per_year": parity.wakes_per_year if parity else None,
        "start_stop_used_fraction": max(r.start_stop_used_fraction for r in roles),
        "load_unload_used_fraction": max(r.load_unload_used_fraction for r in roles),
        "kwh_per_year": row.kwh_per_year,
        "energy_price_per_year": row.energy_per_year,
        "wear_price_per_year": row.wear_per_year,
        "waited_h_per_year": row.waited_h_per_year,
        "longest_wait_s": row.longest_wait_s,
        "write_mb_s": row.write_mb_s,
        "total_price": row.total,
    }


def row_of(
    columns: Iterable[Column], told: Mapping[str, Any], group: str, mark: str
) -> Row:
    """Return a policy as a row of a table; the column without a key holds its mark."""
    timeout: Value = told["timeout_min"]
    cells = {**told, "timeout_min": Worded(timeout, timeout_words(timeout)), "": mark}  # type: ignore[arg-type]  # minutes or nothing
    return Row(cells=tuple(cells[column.key] for column in columns), group=group)


MARK = Column(head="", flow="keep")
"""The last column of a table of policies: what is said of a row."""

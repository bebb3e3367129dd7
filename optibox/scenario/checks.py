"""Keys that are fine one by one and cannot be meant together.

Only what no machine could do stands here. What the catalogs at hand cannot do is
an answer of the planner, not a fault of the scenario.
"""

from collections.abc import Callable, Iterator, Mapping
from typing import Any, NamedTuple

from optibox.catalog.columns import number_text
from optibox.scenario.places import Loc
from optibox.scenario.records import Choices, Layout, Needs, Usage

MB_S_PER_GBIT_S = 125.0
"""10^9 bits are 125 * 10^6 bytes; frames and protocols only take away from it."""

_GB_PER_TB = 1000.0
_SECONDS_PER_DAY = 86_400.0
_PARITY: Mapping[Layout, tuple[int, ...]] = {
    "independent": (0, 1, 2),
    "striped": (1, 2),
    "pairs": (1,),
    "striped pairs": (1,),
}
"""Failures that each layout can survive."""


class Clash(NamedTuple):
    """Keys that contradict each other, told at one of them."""

    loc: Loc
    value: object
    problem: str
    remedy: str


def clashes(sections: Mapping[str, Any]) -> Iterator[Clash]:
    """Yield what contradicts itself in those sections that could be read."""
    for names, check in _CHECKS:
        if all(name in sections for name in names):
            yield from check(*(sections[name] for name in names))


def _rates_beyond_the_network(needs: Needs) -> Iterator[Clash]:
    most = needs.other_end_gbit_s * MB_S_PER_GBIT_S
    for key in ("read_mb_s", "write_mb_s", "ingest_mb_s"):
        rate = getattr(needs, key)
        if rate > most:
            yield Clash(
                ("needs", key),
                rate,
                f"is more than the other end can carry: a port of "
                f"{needs.other_end_gbit_s:g} Gb/s moves at most {most:g} MB/s",
                "Lower it, or raise needs.other_end_gbit_s if that port is faster.",
            )


def _burst_beyond_belief(needs: Needs) -> Iterator[Clash]:
    burst_tb = (needs.burst_gb or 0.0) / _GB_PER_TB
    if burst_tb > needs.capacity_tb:
        yield Clash(
            ("needs", "burst_gb"),
            needs.burst_gb,
            f"is a burst of {burst_tb:g} TB; all files together are "
            f"{needs.capacity_tb:.4g} TB",
            "Give the burst in GB, at most the files to hold.",
        )
    elif needs.burst_gb and needs.ingest_mb_s:
        hours = needs.burst_gb * _GB_PER_TB / needs.ingest_mb_s / 3600
        if hours > 24:
            yield Clash(
                ("needs", "burst_gb"),
                needs.burst_gb,
                f"takes {hours:.3g} hours at {needs.ingest_mb_s:g} MB/s; a burst "
                "ends within a day",
                "Raise needs.ingest_mb_s or lower the burst.",
            )


def _ingest_beyond_belief(needs: Needs, usage: Usage) -> Iterator[Clash]:
    daily = usage.ingest_gb_per_day
    most = needs.other_end_gbit_s * MB_S_PER_GBIT_S * _SECONDS_PER_DAY / _GB_PER_TB
    if daily / _GB_PER_TB > needs.capacity_tb:
        yield Clash(
            ("usage", "ingest_gb_per_day"),
            daily,
            f"fills the {needs.capacity_tb:.4g} TB to hold in less than a day",
            "Give a mean day's new data in GB.",
        )
    elif daily > most:
        yield Clash(
            ("usage", "ingest_gb_per_day"),
            daily,
            f"is more than a port of {needs.other_end_gbit_s:g} Gb/s moves in a day "
            f"({number_text(most)} GB)",
            "Lower it, or raise needs.other_end_gbit_s if that port is faster.",
        )


def _empty_choices(choices: Choices) -> Iterator[Clash]:
    for key in ("layouts", "write_modes", "caches"):
        if not getattr(choices, key):
            remedy = "Name at least one, or delete the line for all of them."
            yield Clash(("choices", key), (), "leaves nothing to choose", remedy)
    if not choices.timeouts_min and not choices.allow_never:
        yield Clash(
            ("choices", "timeouts_min"),
            (),
            "is empty while allow_never is false, so that drives could neither stop "
            "nor go on",
            "Name a timeout in minutes, or write allow_never = true.",
        )


def _failures_beyond_layouts(needs: Needs, choices: Choices) -> Iterator[Clash]:
    wanted = needs.failures_survived
    left = [
        (layout, n)
        for layout in choices.layouts
        for n in _PARITY[layout]
        if n >= wanted
    ]
    if choices.layouts and not left:
        yield Clash(
            ("choices", "layouts"),
            choices.layouts,
            f"survives one failure at most, and needs.failures_survived is {wanted}",
            "Allow independent or striped, or ask for one failure.",
        )
    modes = {mode for layout, n in left for mode in _modes(layout, n)}
    if left and choices.write_modes and not modes & set(choices.write_modes):
        yield Clash(
            ("choices", "write_modes"),
            choices.write_modes,
            f"goes with none of the layouts left ({', '.join(sorted({x for x, _ in left}))})",
            f"Allow {' or '.join(sorted(modes))}.",
        )


def _modes(layout: Layout, n_parity: int) -> tuple[str, ...]:
    if layout == "independent" and n_parity:
        return "read-modify-write", "reconstruct"
    return ("plain",)


def _single_cache_beside_mirror(needs: Needs, choices: Choices) -> Iterator[Clash]:
    if needs.needs_cache_mirror and set(choices.caches) == {"single"}:
        yield Clash(
            ("choices", "caches"),
            choices.caches,
            "allows one cache drive only, where a cache must be mirrored",
            "Allow mirror or none, or write needs.cache_mirror = false.",
        )


_CHECKS: tuple[tuple[tuple[str, ...], Callable[..., Iterator[Clash]]], ...] = (
    (("needs",), _rates_beyond_the_network),
    (("needs",), _burst_beyond_belief),
    (("needs", "usage"), _ingest_beyond_belief),
    (("choices",), _empty_choices),
    (("needs", "choices"), _failures_beyond_layouts),
    (("needs", "choices"), _single_cache_beside_mirror),
)

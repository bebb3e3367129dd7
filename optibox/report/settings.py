"""The same parts run in another way: change nothing but this setting, gain that."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from optibox.assess import Assessment, assess
from optibox.build import Build, OperatingPlan
from optibox.build.change import without
from optibox.report.quantity import clock, number

SAME = 0.005
"""Costs closer than half a minor unit are the same. [currency]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """One setting: as it is, and the best that it could be with all else as it is."""

    name: str
    now: str
    best: str
    gain: float
    """Saved over the years by changing nothing but this. [currency]"""
    kwh_saved: float
    """Energy saved in a year. [kWh]"""
    write_mb_s: float
    n_errors: int
    """Errors fewer than now; a setting can also mend a machine."""

    @property
    def is_best(self) -> bool:
        """Return whether the machine is run in the best way already."""
        return self.n_errors <= 0 and self.gain < SAME


@dataclass(frozen=True, slots=True, kw_only=True)
class _Way:
    words: str
    build: Build


def settings_of(found: Assessment) -> tuple[Setting, ...]:
    """Return every setting that has alternatives, and all of them together last.

    A way that brings an error which the present one has not does not count.
    """
    rows = []
    for name, now, ways in _alternatives(found):
        best, other = _best(found, ways)
        rows.append(_row(name, now, best, other, found))
    together = _together(found)
    if together is not None:
        rows.append(together)
    return tuple(rows)


def _row(
    name: str, now: str, words: str, other: Assessment, found: Assessment
) -> Setting:
    return Setting(
        name=name,
        now=now,
        best=words or now,
        gain=running(found) - running(other),
        kwh_saved=found.year.kwh - other.year.kwh,
        write_mb_s=other.rates.write_mb_s,
        n_errors=len(found.errors) - len(other.errors),
    )


def running(found: Assessment) -> float:
    """Return what running the machine costs over the years; parts are there already."""
    return found.total_cost - (
        found.cost.purchase if "purchase" in found.scenario.money.terms else 0.0
    )


def _best(found: Assessment, ways: list[_Way]) -> tuple[str, Assessment]:
    """Return the best way and its machine; no words where the present one is best."""
    known = {finding.evidence for finding in found.errors}
    best, words = found, ""
    for way in ways:
        other = assess(way.build, found.scenario)
        fresh = [f for f in other.errors if f.evidence not in known]
        if not fresh and _key(other) < _key(best):
            best, words = other, way.words
    return words, best


def _key(found: Assessment) -> tuple[int, float]:
    return len(found.errors), round(running(found), 2)


def _alternatives(found: Assessment) -> Iterator[tuple[str, str, list[_Way]]]:
    build, plan = found.build, found.machine.operation
    if plan.write_mode != "plain":
        modes = [_run(build, m, write_mode=m) for m in _MODES if m != plan.write_mode]
        yield "write mode", plan.write_mode, modes
    yield "drives stop after", timeout_words(plan), list(_timeouts(found))
    caches = list(_smaller_caches(build))
    if caches:
        yield "cache", plan.cache, caches
        hours = [_run(build, clock(h), flush_hour=float(h)) for h in range(24)]
        yield "cache flushed at", clock(plan.flush_hour), hours


_MODES = ("read-modify-write", "reconstruct")


def _run(build: Build, words: str, **changes: object) -> _Way:
    plan: OperatingPlan = replace(build.operation, **changes)  # type: ignore[arg-type]
    return _Way(words=words, build=replace(build, operation=plan))


def timeout_words(plan: OperatingPlan) -> str:
    """Return a timeout in words."""
    return "never" if plan.timeout_min is None else f"{number(plan.timeout_min)} min"


def _timeouts(found: Assessment) -> Iterator[_Way]:
    for minutes in sorted(set(found.scenario.choices.timeouts_min)):
        yield _run(found.build, f"{number(minutes)} min", timeout_min=minutes)
    if found.scenario.choices.allow_never:
        yield _run(found.build, "never", timeout_min=None)


def _smaller_caches(build: Build) -> Iterator[_Way]:
    """Yield the machine with fewer of its cache drives; the others lie in a drawer."""
    drives = [drive.name for drive in build.drives if drive.role == "cache"]
    if len(drives) == 2:
        yield _Way(words="single", build=_without(build, drives[1:], "single"))
    if drives:
        yield _Way(words="none", build=_without(build, drives, "none"))


def _without(build: Build, names: list[str], cache: str) -> Build:
    less = without(build, names)
    plan: OperatingPlan = replace(build.operation, cache=cache)  # type: ignore[arg-type]
    return replace(less, operation=plan)


def _together(found: Assessment) -> Setting | None:
    """Return all settings at their best at once, where more than one has to change.

    Every write mode, timeout and cache is tried with each other at the present hour,
    then every hour for the cheapest of those.
    """
    known = {finding.evidence for finding in found.errors}

    def is_open(other: Assessment) -> bool:
        return all(f.evidence in known for f in other.errors)

    builds = list(_every_run(found))
    judged = [assess(build, found.scenario) for build in builds]
    ranked = sorted(filter(is_open, judged), key=_key)[:_REFINED]
    for other in list(ranked):
        if other.machine.operation.cache != "none":
            ways = [_run(other.build, "", flush_hour=float(h)) for h in range(24)]
            ranked += filter(is_open, (assess(w.build, found.scenario) for w in ways))
    best = min(ranked, key=_key, default=found)
    words = list(_changes(found.machine.operation, best.machine.operation))
    if len(words) < 2 or _key(best) >= _key(found):
        return None
    return _row("all of these", "as it is", ", ".join(words), best, found)


_REFINED = 5
"""Cheapest ways of running that every flush hour is tried with."""


def _every_run(found: Assessment) -> Iterator[Build]:
    caches = [found.build, *(way.build for way in _smaller_caches(found.build))]
    plan = found.machine.operation
    modes = _MODES if plan.write_mode != "plain" else ("plain",)
    timeouts = [way.build.operation.timeout_min for way in _timeouts(found)]
    for build in caches:
        for mode in modes:
            for minutes in timeouts:
                yield _run(build, "", write_mode=mode, timeout_min=minutes).build


def _changes(now: OperatingPlan, best: OperatingPlan) -> Iterator[str]:
    if best.write_mode != now.write_mode:
        yield f"write mode {best.write_mode}"
    if best.timeout_min != now.timeout_min:
        yield f"drives stop after {timeout_words(best)}"
    if best.cache != now.cache:
        yield f"cache {best.cache}"
    if best.flush_hour != now.flush_hour and best.cache != "none":
        yield f"flushed at {clock(best.flush_hour)}"

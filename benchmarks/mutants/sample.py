"""A seeded sample of faults, spread over packages and their modules."""

import random
from collections.abc import Mapping, Sequence
from pathlib import Path

from benchmarks.mutants.faults import Fault, faults_of

PACKAGES = ("physics", "figures", "rules", "model", "search", "measure")
"""What decides an answer."""
PLACE = ("path", "within", "before", "after")


def all_faults(root: Path, packages: Sequence[str]) -> dict[str, list[Fault]]:
    """Return every fault by package, in the order of files and lines."""
    return {
        package: [
            fault
            for path in sorted((root / "optibox" / package).rglob("*.py"))
            for fault in faults_of(
                path.relative_to(root).as_posix(), path.read_text("utf-8")
            )
        ]
        for package in packages
    }


def draw(faults: Mapping[str, Sequence[Fault]], size: int, seed: int) -> list[Fault]:
    """Return a sample in which each package and module has its share.

    Packages are strata of proportional size. Within one, every k-th fault is taken from a
    random start (systematic sampling), so that modules have their share as well and each
    fault is as likely as any other. The order is random: what is done first is a sample
    of its own.
    """
    rng = random.Random(seed)
    chosen = []
    for package, n in shares({p: len(f) for p, f in faults.items()}, size).items():
        step = len(faults[package]) / n if n else 0.0
        start = rng.random()
        chosen += [faults[package][int((start + i) * step)] for i in range(n)]
    rng.shuffle(chosen)
    return chosen


def shares(totals: Mapping[str, int], size: int) -> dict[str, int]:
    """Return how many of a sample fall to each stratum, by largest remainders.

    Examples
    --------
    >>> shares({"a": 60, "b": 30, "c": 10}, 5)
    {'a': 3, 'b': 2, 'c': 0}
    """
    total = sum(totals.values())
    size = min(size, total)
    exact = {name: size * n / total for name, n in totals.items()} if total else {}
    found = {name: int(value) for name, value in exact.items()}
    by_rest = sorted(exact, key=lambda name: found[name] - exact[name])
    for name in by_rest[: size - sum(found.values())]:
        found[name] += 1
    return found


def refound(lost: Sequence[Mapping], now: Sequence[Fault]) -> list[Fault]:
    """Return faults of another state of the project as they are in this one.

    They are known by what stands around them; one whose place was rewritten is left out.
    """
    found = []
    for told in lost:
        same = [f for f in now if all(getattr(f, k) == told[k] for k in PLACE)]
        near = min(same, key=lambda f: abs(f.line - told["line"]), default=None)
        if near is not None:
            found.append(near)
    return found

"""The score of a sample with its interval, by package, and the faults that nobody found."""

import math
from collections.abc import Iterator, Sequence

from benchmarks.mutants.campaign import Result


def wilson(n_found: int, n_all: int, z: float = 1.959964) -> tuple[float, float]:
    """Return the interval of a share that 95 of 100 samples draw around the true one.

    E. B. Wilson, Journal of the American Statistical Association 22 (1927), 209-212.

    Examples
    --------
    >>> [round(x, 4) for x in wilson(9, 10)]
    [0.5958, 0.9821]
    """
    if n_all == 0:
        return 0.0, 1.0
    share, z2 = n_found / n_all, z * z / n_all
    mid = share + z2 / 2.0
    half = z * math.sqrt(share * (1.0 - share) / n_all + z2 / 4.0 / n_all)
    return (mid - half) / (1.0 + z2), (mid + half) / (1.0 + z2)


def lines(results: Sequence[Result]) -> Iterator[str]:
    """Yield the report."""
    yield f"{'package':10} {'faults':>6} {'found':>6} {'score':>6}  95 % interval"
    packages = sorted({_package(r) for r in results})
    for package in packages:
        yield _row(package, [r for r in results if _package(r) == package])
    yield _row("all", results)
    lost = [r for r in results if not r.is_found]
    endless = sum(r.status == "timeout" for r in results)
    yield f"{endless} of the found ones never ended; {len(lost)} were not found:"
    for result in sorted(lost, key=lambda r: (r.fault.path, r.fault.line)):
        fault = result.fault
        yield f"{fault.path}:{fault.line} in {fault.within or 'module'}: {fault.change}"
        yield f"    {_why(result)}"


def _row(name: str, results: Sequence[Result]) -> str:
    n_found = sum(r.is_found for r in results)
    low, high = wilson(n_found, len(results))
    share = n_found / len(results) if results else math.nan
    return (
        f"{name:10} {len(results):6} {n_found:6} {share:6.1%}  {low:.1%} to {high:.1%}"
    )


def _package(result: Result) -> str:
    return result.fault.path.split("/")[1]


def _why(result: Result) -> str:
    if result.n_covering == 0:
        return "no default test runs it"
    tests = f"{result.n_run} of {result.n_covering} tests that run it"
    return (
        f"{tests} passed, then the time was up"
        if result.is_cut_short
        else (f"{tests} passed")
    )

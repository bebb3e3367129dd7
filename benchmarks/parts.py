"""What is measured, part by part; each part gives rows of one table."""

import math
import tempfile
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from benchmarks.cases import MIDDLING, NARROW
from benchmarks.clock import PYTHON, Run, median, python, run

EXAMPLES = Path(__file__).parents[1] / "examples"
FIVE_LINES = str(EXAMPLES / "five-lines.toml")
SIZES = (1, 3, 10, 30)
SOLVERS = ("highs", "cbc", "scip", "cp-sat")


@dataclass(frozen=True)
class Options:
    """How thoroughly."""

    repeats: int = 3
    limit_s: float = 120.0
    peer_cases: int = 3
    sizes: tuple[int, ...] = SIZES
    seed: int = 1


@dataclass(frozen=True, kw_only=True)
class Row:
    """One figure of the table."""

    part: str
    case: str
    wall_s: float = math.nan
    cpu_s: float = math.nan
    inner_s: float = math.nan
    """Seconds of the work alone, by its own clock: no start-up, no reading."""
    peak_mb: float = math.nan
    ratio: float = math.nan
    """Against what ``against`` names."""
    against: str = ""
    target: str = ""
    is_met: bool | None = None
    note: str = ""
    runs: int = 1
    more: Mapping[str, Any] = field(default_factory=dict)

    def table(self) -> dict[str, Any]:
        """Return the row for JSON; what is not a number is null."""
        return {
            key: None
            if isinstance(value, float) and not math.isfinite(value)
            else value
            for key, value in asdict(self).items()
        }


def row_of(part: str, name: str, runs: list[Run], inner: str = "", **more: Any) -> Row:
    """Return medians of several runs; ``inner`` is a key that the process tells."""
    told = [r.told for r in runs]
    inner_s = [float(t[inner]) for t in told if t.get(inner) is not None]
    return Row(
        part=part,
        case=name,
        wall_s=median([r.wall_s for r in runs]),
        cpu_s=median([r.cpu_s for r in runs]),
        inner_s=median(inner_s) if inner_s else math.nan,
        peak_mb=max(r.peak_mb for r in runs),
        runs=len(runs),
        **more,
    )


def plans(options: Options) -> Iterator[Row]:
    """Time the plan of each example: whole process, and the search alone."""
    for path in sorted(EXAMPLES.glob("*.toml")):
        words = ("optibox", "plan", str(path), "--format", "json")
        words += ("--time-limit", str(options.limit_s))
        runs = [python(*words, limit_s=options.limit_s) for _ in range(options.repeats)]
        proof = [r.told.get("proof", {}).get("seconds") for r in runs]
        inner = median([float(s) for s in proof if s is not None])
        found = row_of("a plan", path.stem, runs)
        yield _replaced(
            found,
            inner_s=inner,
            target="whole process <= 1 s",
            is_met=found.wall_s <= 1.0,
            note=str(runs[-1].told.get("status", f"exit {runs[-1].code}")),
        )


def frontiers(options: Options) -> Iterator[Row]:
    """Time the default frontier of each example that has one."""
    for path in sorted(EXAMPLES.glob("*.toml")):
        done = _worker("frontier", str(path), 1, options)
        told = done.told
        first = told.get("first_cover_s")
        yield row_of(
            "b frontier",
            path.stem,
            [done],
            "first_cover_s",
            target="first proven cover <= 10 s",
            is_met=told.get("status") == "infeasible"
            or (first is not None and first <= 10.0),
            note=_front_note(told),
            more=told,
        )


def _front_note(told: Mapping[str, Any]) -> str:
    if not told:
        return "ended without an answer"
    factor = told.get("factor")
    proven = "nothing proven" if factor is None else f"within {factor - 1:.1%}"
    return (
        f"{told.get('status')}, {proven}, {told.get('rows')} rows, "
        f"{told.get('searches')} searches in {told.get('seconds', math.nan):.1f} s"
    )


def sizes(options: Options) -> Iterator[Row]:
    """Time plan and frontier with catalogs of several sizes."""
    targets = {3: math.inf, 10: 3.0, 30: 8.0}
    for what in ("plan", "frontier"):
        first = math.nan
        for size in options.sizes:
            n = options.repeats if what == "plan" else 1
            runs = [_worker(what, FIVE_LINES, size, options) for _ in range(n)]
            told = runs[-1].told
            inner = "seconds" if what == "plan" else "first_cover_s"
            found = row_of(f"c {what}", f"{size}x", runs, inner, more=told)
            if size == options.sizes[0]:
                first = found.inner_s
            ratio = found.inner_s / first
            target = targets.get(size, math.inf)
            yield _replaced(
                found,
                ratio=ratio,
                against=f"{options.sizes[0]}x",
                target=f"<= {target:g} times" if math.isfinite(target) else "",
                is_met=ratio <= target if math.isfinite(target) else None,
                note=_front_note(told)
                if what == "frontier"
                else f"{told.get('status', 'no answer')}, {told.get('parts')} parts",
            )


def peer_cases(options: Options) -> list[str]:
    """Return the instances that peers solve as well."""
    return [NARROW, *(f"{MIDDLING}{n}" for n in range(options.peer_cases - 1))]


def peers(options: Options) -> Iterator[Row]:
    """Time general-purpose solvers on the flat program of the same instance."""
    for name in peer_cases(options):
        own = [_worker("plan", name, 1, options) for _ in range(options.repeats)]
        mine = row_of(
            "d plan", name, own, "seconds", note=str(own[-1].told.get("status"))
        )
        yield mine
        with tempfile.TemporaryDirectory() as folder:
            mps = str(Path(folder) / "flat.mps")
            size = python("benchmarks.peers", "write", name, mps).told
            best = math.inf
            for solver in SOLVERS:
                found = _peer(solver, mps, name, size, options)
                if found.note.startswith("proven"):
                    best = min(best, found.inner_s)
                yield _replaced(
                    found, ratio=found.inner_s / mine.inner_s, against="d plan"
                )
        limit = options.limit_s if math.isinf(best) else best
        yield Row(
            part="d best peer",
            case=name,
            inner_s=limit,
            ratio=limit / mine.inner_s,
            against="d plan",
            target=">= 20 times",
            is_met=limit / mine.inner_s >= 20,
            note="no peer proved it in time" if math.isinf(best) else "",
        )


def _peer(
    solver: str, mps: str, name: str, size: Mapping[str, Any], options: Options
) -> Row:
    done = python(
        "benchmarks.peers", solver, mps, str(options.limit_s), limit_s=options.limit_s
    )
    told = done.told
    words = [
        "proven" if told.get("proven") else "not proven",
        f"{size.get('columns')} columns, {size.get('rows')} rows",
        str(told.get("note") or ""),
    ]
    return row_of(
        f"d {solver}",
        name,
        [done],
        "seconds",
        note=", ".join(word for word in words if word),
        more=told,
    )


def textbook(options: Options) -> Iterator[Row]:
    """Time a two-objective frontier: ours against the textbook method."""
    for name in peer_cases(options):
        done = _worker("pair", name, 1, options)
        mine = row_of("d pair", name, [done], "seconds", note=_front_note(done.told))
        yield mine
        other = python(
            "benchmarks.peers",
            "textbook",
            name,
            str(options.limit_s),
            limit_s=options.limit_s,
        )
        told = other.told
        found = row_of("d textbook", name, [other], "seconds", more=told)
        ratio = found.inner_s / mine.inner_s
        is_whole = bool(told.get("proven"))
        yield _replaced(
            found,
            ratio=ratio,
            against="d pair",
            target=">= 10 times",
            is_met=ratio >= 10 or (None if not is_whole else False),
            note=("whole" if is_whole else "stopped by time, so at least this")
            + f", {told.get('programs')} programs, {told.get('points')} points, "
            f"{told.get('share', math.nan):.0%} of the grid",
        )


def start_up(options: Options) -> Iterator[Row]:
    """Time how soon help is there, a bare interpreter beside it."""
    n = max(7, options.repeats)
    bare = row_of(
        "e start-up", "bare python", [run([PYTHON, "-c", ""]) for _ in range(n)]
    )
    yield bare
    found = row_of(
        "e start-up", "optibox --help", [python("optibox", "--help") for _ in range(n)]
    )
    yield _replaced(
        found,
        ratio=found.wall_s / bare.wall_s,
        against="bare python",
        target="<= 0.25 s",
        is_met=found.wall_s <= 0.25,
    )


def memory(rows: list[Row]) -> Iterator[Row]:
    """Find the largest peak of what optibox itself ran in the parts before."""
    own = [
        r for r in rows if r.part.split()[0] in "abc" or r.part in ("d plan", "d pair")
    ]
    if own:
        worst = max(own, key=lambda r: r.peak_mb)
        yield Row(
            part="f memory",
            case=f"{worst.part}, {worst.case}",
            peak_mb=worst.peak_mb,
            target="<= 400 MB",
            is_met=worst.peak_mb <= 400,
        )


def _worker(what: str, name: str, size: int, options: Options) -> Run:
    return python(
        "benchmarks.worker",
        what,
        name,
        str(size),
        str(options.seed),
        str(options.limit_s),
        limit_s=options.limit_s,
    )


def _replaced(row: Row, **changes: Any) -> Row:
    return Row(**{**{k: getattr(row, k) for k in row.__dataclass_fields__}, **changes})


PARTS = {
    "plan": plans,
    "frontier": frontiers,
    "sizes": sizes,
    "peers": peers,
    "textbook": textbook,
    "start-up": start_up,
}

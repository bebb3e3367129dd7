"""Run all of it: ``python -m benchmarks``; a table on stdout, JSON in a file.

Run it from the project's folder, on a machine that does nothing else. Each figure is the
median of several processes; ratios are of figures of the same run.
"""

import argparse
import json
import math
import os
import platform
import sys
from datetime import UTC, datetime
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from benchmarks.parts import PARTS, Options, Row, memory

LIBRARIES = ("optibox", "highspy", "PuLP", "pyscipopt", "ortools", "numpy")


def main() -> None:
    """Measure, print, write."""
    asked = _asked()
    options = Options(
        repeats=asked.repeats,
        limit_s=asked.time_limit,
        peer_cases=asked.peer_cases,
        sizes=tuple(int(s) for s in asked.sizes.split(",")),
        seed=asked.seed,
    )
    rows: list[Row] = []
    sys.stdout.write(
        _line("part", "case", "wall s", "CPU s", "work s", "MB", "ratio", "target")
    )
    for name in asked.parts.split(","):
        for row in PARTS[name](options):
            rows.append(row)
            _show(row)
    for row in memory(rows):
        rows.append(row)
        _show(row)
    told = {
        "machine": _machine(),
        "options": vars(asked),
        "rows": [r.table() for r in rows],
    }
    Path(asked.output).write_text(
        json.dumps(told, indent=2, default=str) + "\n", "utf-8"
    )
    sys.stderr.write(f"{asked.output} is written\n")


def _asked() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m benchmarks", description=__doc__)
    parser.add_argument(
        "--parts", default=",".join(PARTS), help="Parts, commas between."
    )
    parser.add_argument("--repeats", type=int, default=3, help="Processes a figure.")
    parser.add_argument(
        "--time-limit", type=float, default=120.0, help="Of a process [s]."
    )
    parser.add_argument(
        "--peer-cases", type=int, default=3, help="Instances for peers."
    )
    parser.add_argument(
        "--sizes", default="1,3,10,30", help="Times the shipped catalog."
    )
    parser.add_argument("--seed", type=int, default=1, help="Of synthetic catalogs.")
    parser.add_argument(
        "--output", default="benchmark.json", help="JSON file to write."
    )
    return parser.parse_args()


def _show(row: Row) -> None:
    met = {True: "met", False: "MISSED", None: ""}[row.is_met]
    ratio = "" if math.isnan(row.ratio) else f"{row.ratio:.3g} x {row.against}"
    sys.stdout.write(
        _line(
            row.part,
            row.case,
            _number(row.wall_s),
            _number(row.cpu_s),
            _number(row.inner_s),
            _number(row.peak_mb, 0),
            ratio,
            f"{row.target} {met}".strip(),
        )
    )
    if row.note:
        sys.stdout.write(f"{'':14}{row.note}\n")
    sys.stdout.flush()


def _number(value: float, digits: int = 2) -> str:
    return "" if math.isnan(value) else f"{value:.{digits}f}"


def _line(*cells: str) -> str:
    widths = (13, 24, 8, 8, 8, 6, 18, 32)
    sides = ("<", "<", ">", ">", ">", ">", ">", "<")
    pairs = zip(cells, widths, sides, strict=True)
    return " ".join(f"{c:{side}{w}}" for c, w, side in pairs).rstrip() + "\n"


def _machine() -> dict[str, object]:
    def of(name: str) -> str:
        try:
            return version(name)
        except PackageNotFoundError:
            return "not installed"

    return {
        "date": datetime.now(tz=UTC).isoformat(timespec="seconds"),
        "python": platform.python_version(),
        "system": f"{platform.system()} {platform.machine()}",
        "processors": os.cpu_count(),
        "load_at_the_end": os.getloadavg()[0],
        "libraries": {name: of(name) for name in LIBRARIES},
    }


if __name__ == "__main__":
    if sys.argv[1:2] == ["mutants"]:
        from benchmarks.mutants.command import main as mutants

        mutants(sys.argv[2:])
    else:
        main()

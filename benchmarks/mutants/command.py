"""``python -m benchmarks mutants``: draw faults, try them, say the score."""

import argparse
import os
import sys
from collections.abc import Sequence
from pathlib import Path

from benchmarks.mutants.campaign import Campaign, lost_in
from benchmarks.mutants.covering import State
from benchmarks.mutants.faults import is_change
from benchmarks.mutants.report import lines
from benchmarks.mutants.sample import PACKAGES, all_faults, draw, refound


def main(arguments: Sequence[str]) -> None:
    """Run from the project's folder; everything is written outside of it."""
    asked = _asked(arguments)
    root = Path.cwd()
    state = State(root, Path(asked.store), oracles=not asked.no_oracles)
    faults = all_faults(root, asked.packages)
    book = state.folder / f"verdicts-{asked.seed}.jsonl"
    if asked.again:
        everything = [fault for package in faults.values() for fault in package]
        chosen = refound(lost_in(Path(asked.again)), everything)
        book = state.folder / f"again-{os.getpid()}.jsonl"
    else:
        chosen = draw(faults, asked.sample, asked.seed)
    if not asked.tests:
        state.measure()
    chosen = [f for f in chosen if is_change(f, (root / f.path).read_text("utf-8"))]
    campaign = Campaign(state, book, most_s=asked.most_seconds, files=asked.tests)
    results = campaign.run(chosen, asked.jobs)
    sys.stderr.write("\n")
    sys.stdout.write("\n".join(lines(results)) + "\n")


def _asked(arguments: Sequence[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="python -m benchmarks mutants",
        description="Make single faults and count those that the default tests find.",
    )
    cache = os.environ.get("XDG_CACHE_HOME") or str(Path.home() / ".cache")
    parser.add_argument("--sample", type=int, default=300, help="Number of faults.")
    parser.add_argument("--seed", type=int, default=1, help="Of the sample.")
    parser.add_argument("--jobs", type=int, default=1, help="Faults at a time.")
    parser.add_argument(
        "--packages", nargs="+", default=PACKAGES, help="Where faults are made."
    )
    parser.add_argument(
        "--most-seconds", type=float, default=90.0, help="Processor time for a fault."
    )
    parser.add_argument(
        "--again", help="Verdicts of an earlier run: try what was not found there."
    )
    parser.add_argument(
        "--no-oracles", action="store_true", help="Leave tests/oracle out: quicker."
    )
    parser.add_argument(
        "--tests", nargs="+", default=(), help="Try these files instead of all tests."
    )
    parser.add_argument(
        "--store",
        default=f"{cache}/optibox-mutants",
        help="Folder for copies, maps and verdicts, outside the project.",
    )
    return parser.parse_args(arguments)

"""Run the default tests of the current folder and write how long each took.

Most run with coverage. The oracles run nearly all of the planner and would take hours to
trace: they are timed alone, and count as running everything but ``measure``.
"""

import json
import sys
from collections import defaultdict
from pathlib import Path

import pytest

ORACLES = "tests/oracle"
OPTIONS = ("-q", "-p", "no:cacheprovider", "--hypothesis-seed=0")


class Recorder:
    """Note seconds and verdict of every test."""

    def __init__(self) -> None:
        self.seconds: dict[str, float] = defaultdict(float)
        self.unfit: set[str] = set()

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Add a phase of a test."""
        self.seconds[report.nodeid] += report.duration
        if report.outcome != "passed":
            self.unfit.add(report.nodeid)


def main() -> int:
    """Run, and write the seconds of the tests that passed."""
    sys.path.pop(0)  # this script's own folder
    part, file, *changed = sys.argv[1:]
    recorder = Recorder()
    coverage = ("--cov=optibox", "--cov-context=test", "--cov-report=")
    chosen = {
        "traced": (*coverage, f"--ignore={ORACLES}"),
        "timed": ("-p", "no:cov", ORACLES),
    }
    chosen["added"] = (*coverage, "--cov-append", *changed)
    code = pytest.main([*OPTIONS, *chosen[part]], plugins=[recorder])
    if code not in {pytest.ExitCode.OK, pytest.ExitCode.TESTS_FAILED}:
        return int(code)
    passed = {
        name: round(seconds, 4)
        for name, seconds in recorder.seconds.items()
        if name not in recorder.unfit
    }
    Path(file).write_text(json.dumps(passed, indent=0), "utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())

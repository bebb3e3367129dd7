"""Run the tests of one fault after another, each in a process forked from this one.

Libraries are imported here, once, and nothing of the project: a child imports the faulty
copy anew, collects the files that its tests are in, and stops at the first failure. One
line of JSON comes in for each fault, one goes out.
"""

import contextlib
import importlib
import json
import os
import resource
import select
import signal
import sys
import time
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

import pytest

LIBRARIES = (
    "coverage",
    "highspy",
    "hypothesis",
    "hypothesis.strategies",
    "jinja2",
    "matplotlib",
    "numpy",
    "numpy_financial",
    "pandas",
    "pulp",
    "pydantic",
    "rich.console",
    "rich.table",
    "scipy.optimize",
    "scipy.stats",
    "simpy",
    "statsmodels.api",
    "tomli_w",
    "typer.testing",
)
"""What tests and project import from outside; those that are not installed are skipped."""

OPTIONS = (
    "-q",
    "-p", "no:cacheprovider",
    "-p", "no:cov",
    "-W", "ignore::pytest.PytestAssertRewriteWarning",
    "--hypothesis-profile=mutants",
)  # fmt: skip

MOST_BYTES = 6 * 2**30
"""Memory of a child: a fault may never stop to append."""

START_S = 60.0
"""To import and collect, before a child counts as hanging."""

POLL_S = 0.5
"""How often a child that says nothing is looked at."""

TIMES_AS_LONG, AND_S = 10.0, 15.0
"""A test hangs that takes so many times as long as without the fault, and so many
seconds more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What came of the tests of one fault."""

    status: str
    """Killed, timeout (killed by never ending), or survived."""
    by: str = ""
    """The test that failed."""
    n_run: int = 0
    seconds: float = 0.0
    is_cut_short: bool = False
    """Whether the time was up before all tests had run."""


class Watch:
    """A pytest plugin: the wanted tests in the wanted order, and the first failure."""

    def __init__(self, order: Sequence[str], pipe: int) -> None:
        self.rank = {name: rank for rank, name in enumerate(order)}
        self.pipe = pipe

    def tell(self, letter: str, text: str = "") -> None:
        """Send one line to the parent."""
        os.write(self.pipe, f"{letter} {text}\n".encode())

    @pytest.hookimpl(trylast=True)
    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        """Leave the wanted tests, in their order; a file stands for all its tests."""

        def rank(item: pytest.Item) -> int | None:
            file = item.nodeid.split("::")[0]
            return self.rank.get(item.nodeid, self.rank.get(file))

        ranked = [(place, item) for item in items if (place := rank(item)) is not None]
        items[:] = [item for _, item in sorted(ranked, key=lambda pair: pair[0])]

    def pytest_collectreport(self, report: pytest.CollectReport) -> None:
        """Give up where a file cannot even be imported."""
        if report.failed:
            self.tell("k", f"import of {report.nodeid}")
            os._exit(0)

    def pytest_runtest_logstart(self, nodeid: str) -> None:
        """Say which test begins."""
        self.tell("s", nodeid)

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Give up at the first failure."""
        if report.failed:
            self.tell("k", report.nodeid)
            os._exit(0)


def child(copy: Path, order: Sequence[str], pipe: int) -> None:
    """Run tests against the copy and never return."""
    os.setsid()
    resource.setrlimit(resource.RLIMIT_DATA, (MOST_BYTES, MOST_BYTES))
    watch = Watch(order, pipe)
    files = dict.fromkeys(name.split("::")[0] for name in order)
    code = pytest.main([*OPTIONS, *files], plugins=[watch])
    project = sys.modules.get("optibox")
    if project is not None and not str(project.__file__).startswith(str(copy)):
        watch.tell("x", f"the tests ran {project.__file__}")
    elif code in {pytest.ExitCode.OK, pytest.ExitCode.NO_TESTS_COLLECTED}:
        watch.tell("d")
    else:
        watch.tell("x", f"pytest ended with {code}")
    os._exit(0)


class _Clock:
    """Seconds that a child has worked: its processor time, so that load counts not.

    A tenth of the time passed counts at least, for one that sleeps for ever, and all of
    it where the system does not tell.
    """

    def __init__(self, pid: int) -> None:
        self.file, self.begin = Path(f"/proc/{pid}/stat"), time.monotonic()

    def seconds(self) -> float:
        """Return the seconds since the child began."""
        passed = time.monotonic() - self.begin
        try:
            fields = self.file.read_text().rpartition(")")[2].split()
        except OSError:
            return passed
        ticks = sum(map(int, fields[11:15]))  # its own and its children's, proc(5)
        return max(ticks / os.sysconf("SC_CLK_TCK"), passed / 10.0)


def judge(copy: Path, batches: Sequence[dict[str, float]], most_s: float) -> Verdict:
    """Run batches of tests, with their usual seconds, until one fails or time is up."""
    seconds, n_run = 0.0, 0
    for batch in batches:
        verdict = _batch(copy, batch, most_s - seconds)
        n_run, seconds = n_run + verdict.n_run, seconds + verdict.seconds
        if verdict.status != "survived" or verdict.is_cut_short:
            break
    else:
        verdict = Verdict(status="survived")
    worked = {"n_run": n_run, "seconds": round(seconds, 2)}
    return Verdict(**{**asdict(verdict), **worked})


def _batch(copy: Path, batch: dict[str, float], most_s: float) -> Verdict:
    inlet, outlet = os.pipe()
    sys.stdout.flush()
    pid = os.fork()
    if pid == 0:
        os.close(inlet)
        child(copy, tuple(batch), outlet)
    os.close(outlet)
    clock = _Clock(pid)
    try:
        verdict = _follow(_Lines(inlet), clock, batch, most_s)
        return Verdict(**{**asdict(verdict), "seconds": clock.seconds()})
    finally:
        os.close(inlet)
        with contextlib.suppress(ProcessLookupError):
            os.killpg(pid, signal.SIGKILL)
        os.waitpid(pid, 0)


def _follow(
    lines: "_Lines", clock: _Clock, batch: dict[str, float], most_s: float
) -> Verdict:
    """Read what a child tells until it ends, hangs, or the time is up."""
    n_run, running, until = 0, "import", START_S
    while True:
        line = lines.next(POLL_S)
        now = clock.seconds()
        if line is None and lines.has_ended:
            by = f"end of the process in {running}"
            return Verdict(status="killed", by=by, n_run=n_run)
        if line is not None:
            letter, _, text = line.partition(" ")
            if letter != "s":
                return _said(letter, text, n_run)
            running, n_run = text, n_run + 1
            until = now + TIMES_AS_LONG * batch.get(text, 0.0) + AND_S
        elif now > until:
            return Verdict(status="timeout", by=running, n_run=n_run)
        if now > most_s:
            return Verdict(status="survived", n_run=n_run, is_cut_short=True)


def _said(letter: str, text: str, n_run: int) -> Verdict:
    """Return what the last word of a child means."""
    if letter == "x":
        raise RuntimeError(text)
    if letter == "k":
        return Verdict(status="killed", by=text, n_run=n_run)
    return Verdict(status="survived", n_run=n_run)


class _Lines:
    """Lines out of a pipe, waited for a given time."""

    def __init__(self, inlet: int) -> None:
        self.inlet, self.rest, self.whole = inlet, b"", list[str]()
        self.has_ended = False

    def next(self, wait_s: float) -> str | None:
        """Return the next line; ``None`` at the end, or where none comes in time."""
        while not self.whole:
            if not select.select([self.inlet], [], [], wait_s)[0]:
                return None
            data = os.read(self.inlet, 65536)
            if not data:
                self.has_ended = True
                return None
            *whole, self.rest = (self.rest + data).split(b"\n")
            self.whole = [line.decode() for line in whole]
        return self.whole.pop(0)


def _prepare() -> None:
    """Import the libraries, and the profile under which random tests run."""
    for name in LIBRARIES:
        with contextlib.suppress(ImportError):
            importlib.import_module(name)
    from hypothesis import Phase, settings

    settings.register_profile(
        "mutants",
        max_examples=50,
        deadline=None,
        derandomize=True,
        database=None,
        phases=(Phase.explicit, Phase.generate),
    )


def main() -> None:
    """Serve until the input ends."""
    copy = Path.cwd()
    sys.path.pop(0)  # this script's own folder
    sys.dont_write_bytecode = True
    answers = os.fdopen(os.dup(1), "w", buffering=1)
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
    os.dup2(1, 2)
    _prepare()
    answers.write("ready\n")
    for line in sys.stdin:
        asked = json.loads(line)
        try:
            found = asdict(judge(copy, asked["batches"], asked["most_s"]))
        except RuntimeError as problem:
            found = {"problem": str(problem)}
        answers.write(json.dumps(found) + "\n")


if __name__ == "__main__":
    main()

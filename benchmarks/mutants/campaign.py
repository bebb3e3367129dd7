"""All faults of a sample, one after another or a few at a time; stopped runs go on.

Each verdict is one line of a file beside the copies. What stands there is not run again.
"""

import json
import subprocess
import sys
import threading
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from benchmarks.mutants.covering import DefaultTest, State, environment_of
from benchmarks.mutants.faults import Fault, apply
from benchmarks.mutants.sample import PLACE

KILLS_COUNT = 4.0
"""How much more is expected of a test for each fault that it found in the module."""

LEAST_S = 0.05
"""What a test costs at least: collecting its file."""

FILES_AT_FIRST = (3, 12)
"""Test files of the first batches. Most faults are found by the first few tests, and
importing all test files takes longer than running those."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """One fault and what came of it."""

    fault: Fault
    status: str
    by: str
    n_run: int
    n_covering: int
    seconds: float
    is_cut_short: bool

    @property
    def is_found(self) -> bool:
        """Return whether a default test found the fault."""
        return self.status in {"killed", "timeout"}


def batches(
    tests: Sequence[DefaultTest], kills: Counter[str]
) -> list[dict[str, float]]:
    """Return tests in the order of what they promise for their time, in a few batches.

    For tests that find a fault with chance p and take s seconds, descending p/s is the
    order that finds it soonest. What a test found before in the module stands for p.
    Oracles come last: many of them have nothing to do with the fault.
    """

    def promise(test: DefaultTest) -> float:
        return (1.0 + KILLS_COUNT * kills[test.name]) / (test.seconds + LEAST_S)

    order = sorted(tests, key=promise, reverse=True)
    oracles = [test for test in order if not test.is_traced]
    rest = [test for test in order if test.is_traced]
    found = []
    for n_files in FILES_AT_FIRST:
        files = list(dict.fromkeys(test.file for test in rest))[:n_files]
        found.append([test for test in rest if test.file in files])
        rest = [test for test in rest if test.file not in files]
    return [{t.name: t.seconds for t in b} for b in (*found, rest, oracles) if b]


class Campaign:
    """The faults of one sample in one state of the project."""

    def __init__(
        self, state: State, book: Path, *, most_s: float, files: Sequence[str] = ()
    ) -> None:
        self.state, self.book, self.most_s = state, book, most_s
        self.files = files
        self.lock = threading.Lock()
        self.kills: dict[str, Counter[str]] = {}

    def run(self, faults: Sequence[Fault], jobs: int) -> list[Result]:
        """Return a result for every fault; those in the book are taken from it."""
        known = dict(_read(self.book))
        done = [_result(f, known[f.key]) for f in faults if f.key in known]
        for result in done:
            self._count(result)
        todo = [fault for fault in faults if fault.key not in known]
        sys.stderr.write(f"{len(todo)} faults to try, {len(done)} tried before\n")
        queue = iter(todo)
        with ThreadPoolExecutor(jobs) as pool:
            list(pool.map(lambda n: self._work(n, queue, done), range(jobs)))
        by_key = {result.fault.key: result for result in done}
        return [by_key[fault.key] for fault in faults if fault.key in by_key]

    def _work(self, number: int, queue: Iterator[Fault], done: list[Result]) -> None:
        copy = self.state.another_copy(number)
        with _server(copy) as ask:
            while True:
                with self.lock:
                    fault = next(queue, None)
                if fault is None:
                    return
                told = self._try(fault, copy, ask)
                with self.lock:
                    self._note(fault, told)
                    result = _result(fault, told)
                    self._count(result)
                    done.append(result)

    def _try(self, fault: Fault, copy: Path, ask) -> dict:  # noqa: ANN001
        tests = [] if self.files else self.state.covering(fault)
        with self.lock:
            order = batches(tests, self.kills.get(fault.path, Counter()))
            order = [dict.fromkeys(self.files, 0.0)] if self.files else order
        file = copy / fault.path
        whole = file.read_text("utf-8")
        _forget_compiled(file)
        try:
            file.write_text(apply(fault, whole), "utf-8")
            told = ask({"batches": order, "most_s": self.most_s})
        finally:
            file.write_text(whole, "utf-8")
        if "problem" in told:
            message = f"{fault.key}: {told['problem']}"
            raise RuntimeError(message)
        return {**told, "n_covering": len(tests) or told["n_run"]}

    def _note(self, fault: Fault, told: dict) -> None:
        with self.book.open("a", encoding="utf-8") as book:
            place = {name: getattr(fault, name) for name in (*PLACE, "line")}
            book.write(json.dumps({"key": fault.key, "place": place, **told}) + "\n")
        mark = {"killed": ".", "timeout": "t", "survived": "S"}[told["status"]]
        sys.stderr.write(mark)
        sys.stderr.flush()

    def _count(self, result: Result) -> None:
        if result.status == "killed":
            self.kills.setdefault(result.fault.path, Counter())[result.by] += 1


def _read(book: Path) -> Iterable[tuple[str, dict]]:
    if book.exists():
        for line in book.read_text("utf-8").splitlines():
            told = json.loads(line)
            yield told["key"], told


def _result(fault: Fault, told: dict) -> Result:
    figures = {k: told[k] for k in told if k not in {"key", "place"}}
    return Result(fault=fault, **figures)


def lost_in(book: Path) -> list[dict]:
    """Return the places of the faults of a book that were not found."""
    return [told["place"] for _, told in _read(book) if told["status"] == "survived"]


def _forget_compiled(file: Path) -> None:
    """Remove the compiled form: its stamp has whole seconds and cannot tell faults apart."""
    for compiled in (file.parent / "__pycache__").glob(f"{file.stem}.*.pyc"):
        compiled.unlink()


@contextmanager
def _server(copy: Path) -> Iterator:
    """Start a server of tests in a copy; what it yields asks it and waits."""
    process = subprocess.Popen(
        [sys.executable, str(Path(__file__).with_name("server.py"))],
        cwd=copy,
        env=environment_of(copy),
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    inlet, outlet = process.stdin, process.stdout
    assert inlet is not None
    assert outlet is not None

    def ask(asked: dict) -> dict:
        inlet.write(json.dumps(asked) + "\n")
        inlet.flush()
        return json.loads(outlet.readline())

    try:
        outlet.readline()
        yield ask
    finally:
        inlet.close()
        process.wait()

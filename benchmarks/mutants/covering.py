"""Which default test runs which line, and how long it takes: measured once a state.

A copy of the project is made outside of it, named by a digest of its files, and the
default tests run there with coverage, a context for each test. Faults are only ever made
in such copies.
"""

import ast
import hashlib
import json
import os
import shutil
import subprocess
import sys
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from coverage import CoverageData

from benchmarks.mutants.faults import Fault

GOLDEN = ("tests/unit/test_docs.py",)
"""Tests that compare with stored output: they see that something changed and cannot tell
right from wrong, and count for nothing here."""

REPLACED = ("tests/unit/", "tests/property/", "DEVELOPERS.md", "CHANGELOG.md")
"""What may differ between two states whose other tests run the same lines."""

UNPLANNED = ("optibox/measure/",)
"""What no plan depends on."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DefaultTest:
    """One default test that passes."""

    name: str
    """Node id, as pytest writes it."""
    seconds: float
    """With its fixtures, when the map was made."""
    is_traced: bool
    """Whether the lines that it runs are known."""

    @property
    def file(self) -> str:
        """Return the file to collect it from."""
        return self.name.split("::")[0]


class State:
    """One state of the project: a copy of its files and the map of its tests."""

    def __init__(self, root: Path, store: Path, *, oracles: bool = True) -> None:
        self.parts = ("traced", "timed") if oracles else ("traced",)
        files = _files(root)
        self.digests = _digests(root, files)
        self.name = _digest(self.digests)
        self.store, self.folder = store, store / self.name
        self.copy = self.folder / "project"
        if not self.copy.exists():
            _copy(root, files, self.copy)
            self._files_file.write_text(json.dumps(self.digests, indent=0), "utf-8")

    def another_copy(self, number: int) -> Path:
        """Return a copy of the copy, for faults to be made in."""
        target = self.folder / f"job-{number}"
        shutil.rmtree(target, ignore_errors=True)
        shutil.copytree(self.copy, target)
        return target

    def measure(self) -> None:
        """Run the default tests once with coverage, unless that was done before.

        Where a state was measured that differs in test files alone, only those are run.
        """
        if not self._times("traced").exists():
            self._take_over()
        for part in self.parts:
            if not self._times(part).exists():
                self._record(part, self._times(part))

    def _record(self, part: str, times: Path, *files: str) -> None:
        sys.stderr.write(f"default tests are {part} in {self.copy}\n")
        script = Path(__file__).with_name("recorder.py")
        environment = environment_of(self.copy)
        environment |= {"COVERAGE_FILE": str(self._coverage_file)}
        new = times.with_suffix(".new")
        with (self.folder / f"{part}.log").open("w") as log:
            subprocess.run(
                [sys.executable, str(script), part, str(new), *files],
                cwd=self.copy,
                env=environment,
                stdout=log,
                stderr=log,
                check=True,
            )
        new.rename(times)

    def _take_over(self) -> None:
        """Begin with the map of another state whose program is the same."""
        for book in self.store.glob("*/files.json"):
            other = json.loads(book.read_text("utf-8"))
            changed = {
                name
                for name in other.keys() | self.digests.keys()
                if other.get(name) != self.digests.get(name)
            }
            complete = (book.parent / "traced.json").exists()
            if complete and all(name.startswith(REPLACED) for name in changed):
                self._add_to(book.parent, changed)
                return

    def _add_to(self, other: Path, changed: set[str]) -> None:
        """Copy a map and run the test files that are new, or beside a changed helper."""
        shutil.copy(other / "coverage.sqlite", self._coverage_file)
        if (other / "timed.json").exists():
            shutil.copy(other / "timed.json", self._times("timed"))
        folders = {Path(n).parent for n in changed if not _is_tests(n)}
        again = {
            name
            for name in self.digests
            if _is_tests(name) and (name in changed or Path(name).parent in folders)
        }
        added = self.folder / "added.json"
        if again:
            self._record("added", added, *sorted(again))
        found = json.loads((other / "traced.json").read_text("utf-8"))
        kept = {
            n: s for n, s in found.items() if n.split("::")[0] not in again | changed
        }
        kept |= json.loads(added.read_text("utf-8")) if again else {}
        self._times("traced").write_text(json.dumps(kept, indent=0), "utf-8")

    def _times(self, part: str) -> Path:
        return self.folder / f"{part}.json"

    @property
    def _files_file(self) -> Path:
        return self.folder / "files.json"

    @property
    def _coverage_file(self) -> Path:
        return self.folder / "coverage.sqlite"

    @cached_property
    def tests(self) -> dict[str, DefaultTest]:
        """Return the passing tests by name."""
        return {
            name: DefaultTest(name=name, seconds=seconds, is_traced=part == "traced")
            for part in self.parts
            for name, seconds in json.loads(self._times(part).read_text()).items()
            if not name.startswith(GOLDEN)
        }

    @cached_property
    def _lines(self) -> dict[str, dict[int, list[str]]]:
        """Return the tests of each line of each file."""
        data = CoverageData(str(self._coverage_file))
        data.read()
        found: dict[str, dict[int, list[str]]] = defaultdict(lambda: defaultdict(list))
        for (
            file
        ) in data.measured_files():  # a map that was taken over has other folders
            name = file.rpartition("/project/")[2]
            for line, contexts in data.contexts_by_lineno(file).items():
                found[name][line] += [c.rsplit("|", 1)[0] for c in contexts if c]
        return found

    @cached_property
    def _uses(self) -> dict[str, list[tuple[str, int]]]:
        """Return where each name is used: file and line."""
        found = defaultdict(list)
        for file in self._lines:
            for node in ast.walk(ast.parse((self.copy / file).read_text("utf-8"))):
                if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Load):
                    found[node.id].append((file, node.lineno))
                elif isinstance(node, ast.Attribute):
                    found[node.attr].append((file, node.lineno))
        return found

    def covering(self, fault: Fault) -> list[DefaultTest]:
        """Return the tests that run a faulty piece.

        What runs at import time is run by all; there it is the tests that run a line
        which uses the name that the piece is bound to. Oracles count as running every
        line that decides a plan.
        """
        if fault.names:
            places = [place for name in fault.names for place in self._uses[name]]
        else:
            places = [(fault.path, n) for n in range(fault.first, fault.last + 1)]
        decides = not fault.path.startswith(UNPLANNED)
        oracles = [t for t in self.tests.values() if decides and not t.is_traced]
        return self._at(places) + oracles

    def _at(self, places: Iterable[tuple[str, int]]) -> list[DefaultTest]:
        names = {
            name
            for file, line in places
            for name in self._lines.get(file, {}).get(line, ())
        }
        return [self.tests[name] for name in sorted(names) if name in self.tests]


def environment_of(copy: Path) -> dict[str, str]:
    """Return the environment in which a copy is what ``import optibox`` finds."""
    kept = {k: v for k, v in os.environ.items() if not k.startswith("COVERAGE")}
    return kept | {"PYTHONPATH": str(copy), "OPENBLAS_NUM_THREADS": "1"}


def _files(root: Path) -> list[str]:
    """Return the project's files as git knows them, new ones included."""
    command = ["git", "ls-files", "-co", "--exclude-standard", "-z"]
    told = subprocess.run(command, cwd=root, capture_output=True, check=True)
    names = [name for name in told.stdout.decode().split("\0") if name]
    return sorted(name for name in names if (root / name).is_file())


def _digests(root: Path, files: Iterable[str]) -> dict[str, str]:
    """Return a digest of every file that tests can depend on."""
    return {
        name: hashlib.sha256((root / name).read_bytes()).hexdigest()
        for name in files
        if not name.startswith("benchmarks/")
    }


def _digest(digests: Mapping[str, str]) -> str:
    whole = json.dumps(sorted(digests.items()))
    return hashlib.sha256(whole.encode()).hexdigest()[:16]


def _is_tests(name: str) -> bool:
    return name.startswith("tests/") and Path(name).name.startswith("test_")


def _copy(root: Path, files: Iterable[str], copy: Path) -> None:
    part = copy.with_suffix(".part")
    shutil.rmtree(part, ignore_errors=True)
    for name in files:
        target = part / name
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copy2(root / name, target)
    part.rename(copy)

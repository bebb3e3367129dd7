"""The faults that ``python -m benchmarks mutants`` makes, its samples and its score."""

import ast
import doctest
import json
import os
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest
from statsmodels.stats.proportion import proportion_confint

from benchmarks.mutants import faults, report, sample
from benchmarks.mutants.campaign import batches
from benchmarks.mutants.covering import DefaultTest
from benchmarks.mutants.faults import apply, faults_of, is_change

ROOT = Path(__file__).parents[2]


def changes(source):
    return {fault.change for fault in faults_of("optibox/physics/a.py", source)}


@pytest.mark.parametrize("module", [faults, report, sample])
def test_examples_in_docstrings(module):
    assert doctest.testmod(module).failed == 0


@pytest.mark.parametrize(
    ("piece", "expected"),
    [
        ("x < 1.5", {"x < 1.5  ->  x <= 1.5", "x < 1.5  ->  x > 1.5"}),
        ("x == y", {"x == y  ->  x != y"}),
        ("x - y", {"x - y  ->  x + y", "x - y  ->  x"}),
        ("x / y", {"x / y  ->  x * y", "x / y  ->  x"}),
        ("min(x, y)", {"min  ->  max"}),
        ("x and y", {"x and y  ->  (x or y)", "x and y  ->  (x)", "x and y  ->  (y)"}),
        ("not x", {"not x  ->  (x)"}),
        ("True", {"True  ->  False"}),
        ("3", {"3  ->  4", "3  ->  2"}),
        ("0", {"0  ->  1"}),
        ("500", {"500  ->  520"}),
        ("1e-9", set()),
        ("x if y else z", {"x if y else z  ->  z if y else x"}),
    ],
)
def test_what_can_be_wrong_with_a_piece(piece, expected):
    found = changes(f"def f(x, y, z):\n    return {piece}\n")
    # constants inside a comparison have faults of their own
    assert {c for c in found if c.startswith(piece) or piece == "min(x, y)"} == expected


def test_physical_factors_are_a_few_percent_off():
    found = changes("SHARE = 0.5\n")
    off = [float(change.split("->")[1]) / 0.5 for change in found]
    assert sorted(off) == pytest.approx([1 / 1.04, 1.04])


def test_statements_that_go_missing():
    source = "def f(x):\n    if x:\n        return 1\n    x += 2\n    yield from g()\n"
    found = changes(source)
    assert {"x  ->  False", "x += 2  ->  pass"} <= found
    assert "yield from g()  ->  yield from ()" in found


def test_what_no_test_should_pin_is_left_alone():
    source = (
        '"""A module of 1 line."""\n'
        "@rule('A', 1 < 2)\n"
        "def f(x: Literal[1]) -> Literal[2]:\n"
        '    """Return 3."""\n'
        "    error('A1', f'{x + 1} is wrong', 'add 2')\n"
        "    return zip(x, strict=True)\n"
        "class C:\n"
        "    def __repr__(self):\n"
        "        return 1 + 2\n"
    )
    assert changes(source) == set()


def test_a_default_is_known_by_what_it_belongs_to():
    [up, down] = faults_of("a.py", "def f(x=0.5):\n    return x\n")
    assert up.names == down.names == ("f",)
    [up, down] = faults_of("a.py", "HALF = 0.5\n")
    assert up.names == ("HALF",)
    [up, down] = faults_of("a.py", "def f():\n    return 0.5\n")
    assert up.names == ()


def test_every_fault_of_a_module_is_a_program_that_differs():
    path = ROOT / "optibox/physics/cache.py"
    source = path.read_text("utf-8")
    found = faults_of("optibox/physics/cache.py", source)
    assert len(found) > 40
    assert all(is_change(fault, source) for fault in found)
    lines = source.splitlines()
    for fault in found:
        changed = apply(fault, source)
        ast.parse(changed)
        # only the lines of the piece differ
        rest = changed.splitlines()[fault.end_line - len(lines) :]
        assert fault.end_line == len(lines) or rest == lines[fault.end_line :]


def test_letters_of_more_than_one_byte_before_a_piece():
    source = "def f(x):\n    return {'µ': 1}[x] + 2\n"
    texts = {apply(fault, source) for fault in faults_of("a.py", source)}
    assert "def f(x):\n    return {'µ': 1}[x] - 2\n" in texts


def test_samples_are_the_same_for_a_seed_and_spread():
    everything = sample.all_faults(ROOT, ("physics", "figures"))
    first = sample.draw(everything, 60, 7)
    assert first == sample.draw(everything, 60, 7)
    assert first != sample.draw(everything, 60, 8)
    assert len({fault.key for fault in first}) == 60
    totals = {name: len(found) for name, found in everything.items()}
    drawn = Counter(fault.path.split("/")[1] for fault in first)
    assert drawn == sample.shares(totals, 60)
    # systematic: a module with a twentieth of its package's faults is not passed over
    by_module = Counter(f.path for f in everything["physics"])
    large = {p for p, n in by_module.items() if n * 20 > totals["physics"]}
    assert large <= {fault.path for fault in first}


@pytest.mark.parametrize(("found", "all_"), [(0, 10), (9, 10), (270, 300), (300, 300)])
def test_the_interval_is_the_librarys(found, all_):
    expected = proportion_confint(found, all_, method="wilson")
    assert report.wilson(found, all_) == pytest.approx(expected, abs=1e-6)


def test_cheap_tests_and_those_that_found_faults_come_first():
    names = ("a.py::cheap", "b.py::dear", "c.py::killer", "o.py::oracle")
    seconds = (0.1, 10.0, 0.2, 0.0)
    tests = [
        DefaultTest(name=n, seconds=s, is_traced=not n.startswith("o"))
        for n, s in zip(names, seconds, strict=True)
    ]
    order = [name for batch in batches(tests, Counter({names[2]: 2})) for name in batch]
    assert order == [names[2], names[0], names[1], names[3]]


@pytest.mark.slow
def test_faults_of_a_small_project_are_found_or_not(tmp_path):
    """A project of one function: one half of it has a test, the other has none."""
    files = {
        "optibox/__init__.py": "",
        "optibox/physics/__init__.py": "",
        "optibox/physics/a.py": (
            "def f(x):\n    if x > 2:\n        return x + 1\n    return x - 1\n\n\n"
            "def g(x):\n    while x > 0:\n        x -= 1\n    return x\n"
        ),
        "tests/test_a.py": (
            "from optibox.physics.a import f, g\n\n\n"
            "def test_f():\n    assert f(3) == 4\n\n\n"
            "def test_g():\n    assert g(2) == 0\n"
        ),
        "tests/oracle/test_o.py": "def test_o():\n    pass\n",
        "pyproject.toml": (
            '[tool.pytest.ini_options]\npythonpath = ["."]\n'
            'addopts = ["--import-mode=importlib"]\n'
        ),
    }
    project = tmp_path / "project"
    for name, text in files.items():
        (project / name).parent.mkdir(parents=True, exist_ok=True)
        (project / name).write_text(text)
    subprocess.run(["git", "init", "-q"], cwd=project, check=True)
    start = (
        "import sys; from benchmarks.mutants.command import main; main(sys.argv[1:])"
    )
    command = [sys.executable, "-c", start, "--packages", "physics"]
    options = ["--sample", "99", "--store", str(tmp_path / "store")]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    told = [
        subprocess.run(
            [*command, *options],
            cwd=project,
            env=environment,
            capture_output=True,
            text=True,
            check=True,
            timeout=400,
        )
        for _ in range(2)
    ]
    assert told[0].stdout == told[1].stdout
    assert " 0 faults to try" in f" {told[1].stderr}"
    [book] = (tmp_path / "store").glob("*/verdicts-1.jsonl")
    status = {}
    for line in book.read_text().splitlines():
        verdict = json.loads(line)
        status[verdict["key"].partition(":")[2]] = verdict["status"]
    assert status["3:15:x + 1->x - 1"] == "killed"
    assert status["4:11:x - 1->x + 1"] == "survived"
    assert status["9:8:x -= 1->x += 1"] == "timeout"
    assert (project / "optibox/physics/a.py").read_text() == files[
        "optibox/physics/a.py"
    ]

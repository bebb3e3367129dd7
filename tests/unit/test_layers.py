"""Imports go one way; nothing heavy is loaded before it is needed."""

import ast
import json
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.support.source import ROOT, trees

HEAVY = ("pulp", "highspy", "numpy", "pydantic", "rich.table")
STILL_LATE = {
    "optibox/model/rows_parts.py",
    "optibox/model/solver.py",
    "optibox/search/held.py",
}
"""One import that could as well stand at the top, two of what few runs want."""
MOST_LINES = 600
"""Length above which a module is to be taken apart; the aim is 250."""


def fresh(code: str) -> str:
    """Return what code prints in a fresh interpreter."""
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
    )
    return done.stdout


def loaded_after(code: str) -> set[str]:
    """Return the modules that code has loaded."""
    show = "import sys, json; print(json.dumps(sorted(sys.modules)))"
    return set(json.loads(fresh(f"{code}; {show}")))


def test_layers_are_kept():
    """The contracts of the project file: one way, and the solver in one place."""
    code = "from importlinter.cli import lint_imports_command; lint_imports_command()"
    done = subprocess.run(
        [sys.executable, "-c", code, "--no-cache"],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert "0 broken" in done.stdout


def late_imports(node: ast.AST) -> Iterator[ast.stmt]:
    """Yield the imports inside functions."""
    for function in ast.walk(node):
        if isinstance(function, ast.FunctionDef):
            for inner in ast.walk(function):
                if isinstance(inner, ast.Import | ast.ImportFrom):
                    yield inner


def test_late_imports_are_for_the_command_line_alone():
    found = [
        str(path.relative_to(ROOT))
        for path, tree in trees()
        if "cli" not in path.parts
        for _ in late_imports(tree)
    ]
    assert set(found) <= STILL_LATE
    assert len(found) <= len(STILL_LATE)


def test_no_relative_imports():
    for path, tree in trees():
        for node in ast.walk(tree):
            assert not (isinstance(node, ast.ImportFrom) and node.level), path


@pytest.mark.parametrize("code", ["import optibox", "import optibox.cli"])
def test_start_loads_nothing_heavy(code):
    assert loaded_after(code).isdisjoint(HEAVY)


def test_evaluator_loads_no_solver():
    loaded = loaded_after("import optibox; optibox.assess")
    assert "optibox.assess" in loaded
    assert loaded.isdisjoint({"pulp", "highspy"})
    assert not any(name.startswith("optibox.model") for name in loaded)


@pytest.mark.parametrize(
    "first",
    [
        "",
        "import optibox.assess",
        "from optibox.assess import Assessment",
        "from optibox.search.plan import plan",
        "optibox.plan",
    ],
)
def test_assess_is_the_function_whatever_was_imported_before(first):
    code = f"import optibox; {first}\nprint(type(optibox.assess).__name__)"
    assert fresh(code).strip() == "function"


def test_public_names_are_all_there():
    code = (
        "import optibox\n"
        "names = set(optibox.__all__)\n"
        "print(all(getattr(optibox, name) for name in names), names <= set(dir(optibox)))"
    )
    assert fresh(code).split() == ["True", "True"]
    code = "import optibox\ntry: optibox.nothing\nexcept AttributeError as e: print(e)"
    assert "nothing" in fresh(code)


def test_modules_stay_short():
    lengths = {
        path: len(Path(path).read_text(encoding="utf-8").splitlines())
        for path, _ in trees()
    }
    assert {p.name: n for p, n in lengths.items() if n > MOST_LINES} == {}

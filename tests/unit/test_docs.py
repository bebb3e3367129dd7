"""README and contributor's guide are true: their blocks run, their output is real."""

import json
import os
import re
import subprocess
import sys
import tomllib
from functools import cache
from itertools import groupby
from pathlib import Path
from textwrap import dedent
from typing import NamedTuple

import pytest

from optibox.scenario import (
    Choices,
    Factors,
    Limits,
    Money,
    Needs,
    Usage,
    read_scenario,
)
from tests.support.source import ROOT

FILES = ("README.md", "DEVELOPERS.md")
EXAMPLE = "examples/five-lines.toml"
FENCE = re.compile(r"^ *```(\S*) ?(\S*)\n(.*?)^ *```$", re.MULTILINE | re.DOTALL)
SECTIONS = {
    "needs": Needs,
    "limits": Limits,
    "usage": Usage,
    "money": Money,
    "choices": Choices,
    "overrides": Factors,
}
OLD_PRICES = re.compile(r"; \d+ prices? of this list (is|are) older than \d+ days")
"""A remark that comes with the calendar, not with the plan."""


class Block(NamedTuple):
    """A fenced block of a document."""

    language: str
    mark: str
    text: str


@cache
def blocks(name: str) -> list[Block]:
    """Return the fenced blocks of a document, in order."""
    text = (ROOT / name).read_text(encoding="utf-8")
    return [Block(name, mark, dedent(body)) for name, mark, body in FENCE.findall(text)]


def chains() -> dict[str, str]:
    """Return the Python code to run, blocks of one mark joined."""
    marked = [
        (f"{name} {block.mark.removeprefix('run=')}", block.text)
        for name in FILES
        for block in blocks(name)
        if block.language == "python" and block.mark.startswith("run=")
    ]
    return {
        key: "\n".join(text for _, text in group)
        for key, group in groupby(marked, lambda pair: pair[0])
    }


def run(*arguments: str, cwd: Path = ROOT) -> subprocess.CompletedProcess[str]:
    """Run Python in a fresh interpreter that sees the package and the tests."""
    return subprocess.run(
        [sys.executable, *arguments],
        cwd=cwd,
        env={**os.environ, "PYTHONPATH": str(ROOT), "PYTHONWARNINGS": "error"},
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )


@pytest.mark.parametrize("chain", chains())
def test_python_of_the_documents_runs(chain):
    done = run("-c", chains()[chain])
    assert done.returncode == 0, done.stderr


def test_every_python_block_is_run():
    """A block that is not marked would rot; the guide shows a kind, a rule, an aim."""
    for name in FILES:
        assert all(b.mark for b in blocks(name) if b.language == "python"), name
    names = {key.split()[1] for key in chains()}
    assert {"kind", "rule", "aim", "library"} <= names


@pytest.fixture(scope="module")
def answer() -> str:
    """What the example's command prints."""
    done = run("-m", "optibox", "plan", EXAMPLE)
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    return done.stdout


def words(text: str) -> list[str]:
    """Return the words of an answer without what depends on the day of asking."""
    return OLD_PRICES.sub("", " ".join(text.split())).split()


def test_output_in_the_readme_is_what_the_command_prints(answer):
    (shown,) = (b.text for b in blocks("README.md") if b.language == "text")
    page = answer.split("\n\n")[0]
    assert words(page) == words(shown)


def test_scenario_in_the_readme_is_the_example():
    shown = next(b.text for b in blocks("README.md") if b.language == "toml")
    example = (ROOT / EXAMPLE).read_text(encoding="utf-8")
    assert tomllib.loads(shown) == tomllib.loads(example)
    assert len(shown.strip().splitlines()) == 5


def shell_lines() -> list[str]:
    """Return the commands that the README shows, in order."""
    return [
        line
        for block in blocks("README.md")
        if block.language == "sh"
        for line in block.text.splitlines()
    ]


def test_commands_of_the_readme_work(tmp_path):
    """One after the other, in a folder of their own, set-up and tests left out."""
    program = tmp_path / ".venv" / "bin" / "optibox"
    program.parent.mkdir(parents=True)
    program.write_text(f'#!/bin/sh\nexec "{sys.executable}" -m optibox "$@"\n')
    program.chmod(0o755)
    lines = [line for line in shell_lines() if "pip install" not in line]
    assert len(lines) >= 7
    for line in lines:
        done = subprocess.run(
            ["bash", "-c", line],
            cwd=tmp_path,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
            capture_output=True,
            text=True,
            timeout=120,
            check=False,
        )
        assert done.returncode == 0, (line, done.stderr)
        assert "optibox plan" not in line or done.stdout.startswith("Proven"), line


def test_set_up_lines_of_the_readme():
    """Each of the two sets up and does its job in one line."""
    first, second = (line for line in shell_lines() if "pip install" in line)
    for line in (first, second):
        assert line.startswith("python3 -m venv .venv && .venv/bin/pip install ")
    assert first.endswith(f".venv/bin/optibox plan {EXAMPLE}")
    assert second.endswith(".venv/bin/pytest -n auto --dist loadfile")


def test_owned_parts_of_the_readme_can_be_read(tmp_path):
    _, owned = (b.text for b in blocks("README.md") if b.language == "toml")
    path = tmp_path / "scenario.toml"
    example = (ROOT / EXAMPLE).read_text(encoding="utf-8")
    path.write_text(f"{example}\n{owned}", encoding="utf-8")
    scenario, _ = read_scenario(path)
    assert [(o.id, o.count, o.starts) for o in scenario.owned] == [("old-4tb", 2, 3000)]


def test_scenario_keys_of_the_readme_exist():
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    for section, record in SECTIONS.items():
        (row,) = re.findall(rf"^\| `\[{section}\]` \|.*\|(.*)\|$", text, re.MULTILINE)
        keys = set(re.findall(r"`([a-z_]+)`", row))
        assert keys, section
        assert keys <= record.model_fields.keys(), section


def test_exit_codes_of_the_readme():
    """Each code that can be had cheaply is had; the table names no other."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    table = text.split("| Code | Meaning |")[1].split("\n\n")[0]
    told = {int(code) for code in re.findall(r"^\| (\d+) \|", table, re.MULTILINE)}
    assert told == {0, 1, 2, 3, 4, 5, 6, 130}
    assert run("-m", "optibox", "--help").returncode == 0
    assert run("-m", "optibox", "plan", "nowhere.toml").returncode == 2
    assert run("-m", "optibox", "plan", "examples/impossible.toml").returncode == 3


def test_json_has_the_keys_that_programs_rely_on():
    done = run("-m", "optibox", "plan", "examples/impossible.toml", "--format", "json")
    table = json.loads(done.stdout)
    assert {"status", "gap", "build", "proof", "assumptions"} <= table.keys()


def test_links_of_the_documents_lead_somewhere():
    for name in FILES:
        text = (ROOT / name).read_text(encoding="utf-8")
        titles = {
            re.sub(r"[^\w\- ]", "", title.lower()).replace(" ", "-")
            for title in re.findall(r"^#+ (.*)$", text, re.MULTILINE)
        }
        for target in re.findall(r"\]\(([^)]+)\)", text):
            path, _, anchor = target.partition("#")
            assert not path or (ROOT / path).exists(), target
            assert not anchor or path or anchor in titles, target


def test_modules_of_the_guide_exist():
    """Files named in the guide as ``folder/file.py`` are there."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    named = set(re.findall(r"`((?:[a-z_]+/)+[a-z_]+\.(?:py|csv))`", text))
    assert len(named) > 20
    for name in named:
        assert (ROOT / name).exists() or (ROOT / "optibox" / name).exists(), name


def test_decisions_are_numbered_in_order():
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    numbers = re.findall(r"^\*\*D(\d+) ", text, re.MULTILINE)
    assert numbers == [str(n) for n in range(1, len(numbers) + 1)]

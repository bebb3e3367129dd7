"""One register of what builds are judged by: everybody reads it, nothing stands beside."""

import json
from dataclasses import replace
from typing import get_args

import pytest
from typer.testing import CliRunner

from optibox.cli import app
from optibox.cli.options import AimOption
from optibox.criteria import AIMS, AXES, CRITERIA, LIMITS, NEEDS
from optibox.scenario.records import Aim, Limits, Needs

NOT_NUMBERS = {"shape"}
"""Limits that are no figure of a build."""
NO_FIGURES = {
    "usable_tib",
    "burst_gb",
    "fill_fraction",
    "other_end_gbit_s",
    "other_end_medium",
}
"""Needs that say how another is meant."""


def test_aims_are_the_scenarios_and_the_command_lines():
    assert set(AIMS) == set(get_args(Aim))
    assert {aim.replace(" ", "-") for aim in AIMS} == {o.value for o in AimOption}


def test_every_limit_and_need_that_is_a_number_is_a_criterion():
    assert set(LIMITS) == set(Limits.model_fields) - NOT_NUMBERS
    flags = {n for n, f in Needs.model_fields.items() if "bool" in str(f.annotation)}
    assert set(NEEDS) == set(Needs.model_fields) - flags - NO_FIGURES


@pytest.mark.parametrize("criterion", CRITERIA, ids=lambda c: c.name)
def test_a_criterion_says_what_its_roles_want(criterion):
    assert criterion.noun
    assert bool(criterion.end) == bool(criterion.label)
    assert bool(criterion.best) == bool(criterion.aim)
    assert bool(criterion.asked) == bool(criterion.limit or criterion.need)
    # a minimised axis is weighed, since nothing else could limit it
    assert not criterion.label or criterion.is_maximised or criterion.weights
    assert not criterion.aim or criterion.weights or criterion.need
    for words in (criterion.better, criterion.worse):
        assert words.count("{}") == 1


def test_an_axis_is_one_record(tmp_path, monkeypatch):
    """A new axis shows in table, JSON, CSV and help of a frontier, from its record alone."""
    doubled = replace(
        AXES["spinning"],
        name="twice spinning",
        key="twice_spinning_w",
        label="Twice",
        end="least of twice",
        value_of=lambda found: 2 * found.wall.spinning_w,
        weights=lambda _: (
            AXES["spinning"].weights(_).plus(AXES["spinning"].weights(_), 1.0)
        ),
    )
    monkeypatch.setitem(AXES, doubled.name, doubled)
    scenario = tmp_path / "scenario.toml"
    scenario.write_text(
        'catalogs = ["invented"]\nneeds.usable_tb = 4\nneeds.failures_survived = 0\n'
        "money.tariff_per_kwh = 0.3\nlimits.array_drives = 1\n"
        'choices.caches = ["none"]\nchoices.timeouts_min = [10]\n'
    )
    asked = ["frontier", str(scenario), "--axes", "purchase,twice-spinning"]
    asked += ["--cover", "30%", "--time-limit", "40"]
    answer = CliRunner().invoke(app, [*asked, "--format", "json"])
    told = json.loads(answer.stdout)
    assert [axis["name"] for axis in told["axes"]] == ["purchase", "twice spinning"]
    for row in told["rows"]:
        assert row["twice_spinning_w"] == pytest.approx(2 * row["spinning_w"], abs=0.02)
    assert any("twice spinning" in row["best_in"] for row in told["rows"])
    table = CliRunner().invoke(app, asked).stdout
    assert "Twice" in table
    assert "least of twice" in table
    unknown = CliRunner().invoke(app, ["frontier", str(scenario), "--axes", "twice,x"])
    assert "twice spinning" in unknown.output

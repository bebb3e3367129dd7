"""Parts chosen anew under each policy: every row against every build there is."""

import math
from types import SimpleNamespace

import pytest

from optibox.assess import assess
from optibox.report.spindown_planned import PlannedReport
from optibox.report.text import as_text
from optibox.running import policy_plan
from optibox.running.policy_plan import narrowed, planned_policies, planned_table
from tests.support.enumerate import all_builds
from tests.support.tiny import Seeded, drawn, mixed_sizes, owned_drives


@pytest.fixture(scope="module")
def instance():
    return drawn(Seeded(3), [mixed_sizes, owned_drives], 1_500)


@pytest.fixture(scope="module")
def scenario(instance):
    choices = instance.scenario.choices.model_copy(
        update={"timeouts_min": (15.0, 60.0), "aim": "annual energy"}
    )
    return instance.scenario.model_copy(update={"choices": choices})


@pytest.fixture(scope="module")
def table(instance, scenario):
    lines = []
    found = planned_table(instance.catalog, scenario, on_progress=lines.append)
    assert any("policy 1 of" in line for line in lines)
    return found


def test_each_policy_has_its_cheapest_build(instance, table):
    # Enumeration of every build of a tiny catalog, judged by the evaluator.
    for row in table.rows:
        asked = narrowed(table.scenario, row.policy)
        totals = [
            found.total_cost
            for build in all_builds(instance.catalog, asked)
            if (found := assess(build, asked)).is_fit
        ]
        assert (row.status == "optimal") == bool(totals)
        if totals:
            assert row.total == pytest.approx(min(totals), abs=0.011)
            plan = row.found.machine.operation
            assert plan.timeout_min == row.policy.timeout_min
            assert plan.cache == row.policy.cache
        else:
            assert row.total == math.inf


def test_the_best_is_the_best_row(table):
    assert table.best.total == min(row.total for row in table.rows)
    assert table.n_tried == len(table.rows) == len(planned_policies(table.scenario))
    assert table.scenario.choices.aim == "total cost"
    assert PlannedReport(table=table, currency="EUR").verdict().startswith("Best: ")
    text = as_text(PlannedReport(table=table, currency="EUR").document())
    assert f"{len(table.rows)} of {len(table.rows)} policies searched" in text


def test_a_stopped_run_has_the_telling_rows_first(instance, scenario, monkeypatch):
    clock = iter(range(1000))
    ticking = SimpleNamespace(monotonic=lambda: float(next(clock)))
    monkeypatch.setattr(policy_plan, "time", ticking)
    found = planned_table(instance.catalog, scenario, time_limit_s=3.5)
    tried = [row for row in found.rows if row.status is not None]
    assert 0 < len(tried) < len(found.rows)
    best = found.best.policy
    assert all(row.policy.write_mode == best.write_mode for row in tried)
    text = as_text(PlannedReport(table=found, currency="EUR").document())
    assert "not tried in the time given" in text

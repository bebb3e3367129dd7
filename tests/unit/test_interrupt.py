"""An interrupted search answers with the best build so far and an honest gap."""

from pathlib import Path

from optibox.scenario.read import read_scenario
from optibox.search import best as search
from optibox.search.plan import plan

EXAMPLE = Path(__file__).parents[2] / "examples" / "five-lines.toml"


def test_interrupt_keeps_the_best_build(monkeypatch):
    """Ctrl-C after the first build: it is shown, not called optimal, with its bound."""
    scenario, catalog = read_scenario(EXAMPLE)
    settle = search.settle

    def interrupted(leaf, items, ceiling, tally):
        low = settle(leaf, items, ceiling, tally)
        if tally.best is not None:
            raise KeyboardInterrupt
        return low

    monkeypatch.setattr(search, "settle", interrupted)
    found = plan(catalog, scenario)
    assert found.status == "feasible"
    assert found.assessment is not None
    assert found.assessment.is_fit
    assert 0 < found.proof.bound < found.proof.value

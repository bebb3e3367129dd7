"""The next plan with measured figures beside the plan without them."""

from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from optibox.catalog.catalog import Catalog
from optibox.errors import Fault, ScenarioError
from optibox.files import parse_toml, read_text, write_text
from optibox.measure.overrides import override_text
from optibox.measure.reconcile import Reconciliation
from optibox.scenario import Scenario, read_scenario
from optibox.search.plan import plan
from optibox.search.result import Plan


@dataclass(frozen=True, kw_only=True)
class Replanned:
    """Both plans of a scenario, and what only one of them fits. Pieces by item key."""

    before: Plan
    after: Plan
    currency: str
    dropped: tuple[tuple[str, int], ...]
    added: tuple[tuple[str, int], ...]
    unused: tuple[str, ...]
    """Measured parts that the scenario does not know."""


def replan(found: Reconciliation, scenario: Path, source: str) -> Replanned:
    """Return a scenario planned without and with measured figures.

    The figures go the way that a saved file goes: laid over catalog and owned parts.

    Raises
    ------
    ScenarioError
        If the scenario cannot be read, or names measured figures already.
    """
    asked, catalog = read_scenario(scenario)
    known = {*catalog.by_id, *(piece.id for piece in asked.owned)}
    keys = {u.key.partition("@")[0] for u in found.watts if u.key}
    keys |= {f.key.partition("@")[0] for f in found.factors if f.key}
    text = override_text(found, source, only=frozenset(known))
    with TemporaryDirectory() as folder:
        path = Path(folder) / "measured.toml"
        write_text(path, text)
        # faults of either come before any search
        measured = _read_with(scenario, path)
    before, after = plan(catalog, asked), plan(measured[1], measured[0])
    old, new = _pieces(before), _pieces(after)
    return Replanned(
        before=before,
        after=after,
        currency=asked.money.currency or catalog.currency,
        dropped=_beyond(old, new),
        added=_beyond(new, old),
        unused=tuple(sorted(keys - known)),
    )


def _read_with(scenario: Path, path: Path) -> tuple[Scenario, Catalog]:
    if "measured" in parse_toml(scenario, read_text(scenario)):
        problem = "names measured figures already"
        remedy = "Take the line out, or name the new file there and plan."
        fault = Fault(
            path=str(scenario), field="measured", problem=problem, remedy=remedy
        )
        raise ScenarioError([fault])
    return read_scenario(scenario, [f'measured="{path}"'])


def _pieces(found: Plan) -> dict[str, int]:
    if found.assessment is None:
        return {}
    return {e.item.key: e.count for e in found.assessment.build.items}


def _beyond(
    these: dict[str, int], those: dict[str, int]
) -> tuple[tuple[str, int], ...]:
    gaps = ((key, n - those.get(key, 0)) for key, n in these.items())
    return tuple(sorted((key, n) for key, n in gaps if n > 0))

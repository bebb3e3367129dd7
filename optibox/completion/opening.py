"""Opens a build file, saved or written by hand, with its scenario and catalog."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from optibox.assess import assess
from optibox.build.hand import is_by_hand, read_machine_table
from optibox.build.sketch import Sketch, sketch_of
from optibox.build.strict import build_from_table
from optibox.catalog.catalog import Catalog
from optibox.catalog.locate import find_catalogs, shipped_catalogs
from optibox.catalog.read import read_catalog
from optibox.completion.complete import Completion, complete
from optibox.completion.defaults import plain_scenario
from optibox.errors import BuildError, Fault, InputError
from optibox.files import parse_toml, read_text
from optibox.scenario import Scenario, read_scenario
from optibox.scenario.messages import Origin
from optibox.scenario.places import lines_of_keys
from optibox.wiring import completed


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """What a machine is held against, and where parts come from."""

    scenario: Scenario | None = None
    catalog: Catalog | None = None
    is_catalog_told: bool = False
    """The catalog was named for this run and wins over what a build file names."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Opened:
    """A build file, opened and made whole."""

    name: str
    path: str
    sketch: Sketch
    scenario: Scenario
    catalog: Catalog | None
    completion: Completion
    is_asked: bool
    is_by_hand: bool
    stamp: str
    """What a saved build was planned with."""


def question(
    scenario_path: Path | None, settings: Sequence[str], catalogs: Sequence[str]
) -> Question:
    """Return the scenario and the catalog that a command names.

    Parameters
    ----------
    scenario_path : Path or None
        A scenario file, or none.
    settings : sequence of str
        Keys of the scenario changed for this run.
    catalogs : sequence of str
        Catalogs that win over those of the scenario.

    Raises
    ------
    InputError
        With every fault of scenario and catalogs.
    """
    catalog = None
    if catalogs:
        catalog = read_catalog(find_catalogs(catalogs, Path.cwd()))
    if scenario_path is None:
        if settings:
            problem = "changes a scenario, and none is given"
            remedy = "Name one with --scenario."
            raise InputError([Fault(path="--set", problem=problem, remedy=remedy)])
        return Question(catalog=catalog, is_catalog_told=catalog is not None)
    scenario, own = read_scenario(scenario_path, settings)
    is_told = catalog is not None
    if catalog is None:
        catalog = own
    return Question(scenario=scenario, catalog=catalog, is_catalog_told=is_told)


def open_build(path: Path, asked: Question) -> Opened:
    """Return the machine of a build file, made whole and judged.

    Parameters
    ----------
    path : Path
        A file as ``save_build`` writes it, or one written by hand.
    asked : Question
        Without a scenario nothing is asked of the machine.

    Raises
    ------
    BuildError
        With every fault of the file.
    """
    try:
        text = read_text(path)
        table = parse_toml(path, text)
    except InputError as error:
        raise BuildError(error.faults) from None
    origin = Origin(path=str(path), lines=lines_of_keys(text))
    by_hand = is_by_hand(table)
    catalog: Catalog | None
    build = None if by_hand else build_from_table(table, origin)
    if build is None:
        sketch, catalog = read_machine_table(
            path,
            table,
            origin,
            asked.catalog,
            is_told=asked.is_catalog_told,
            owned=asked.scenario.owned if asked.scenario else (),
        )
    else:
        sketch = sketch_of(build)
        catalog = _shipped() if asked.catalog is None else asked.catalog
    own_currency = str(table.get("currency", ""))
    currency = own_currency or (catalog.currency if catalog is not None else "")
    reserve = (
        build.belongings.filesystem_reserve if build and build.belongings else None
    )
    scenario = asked.scenario or plain_scenario(sketch, currency, reserve)
    is_asked = asked.scenario is not None
    if build is None:
        completion = complete(sketch, scenario, catalog, is_asked=is_asked)
    else:
        # a saved build says everything but, if it is an old one, its power plugs:
        # what is missing beside them is a finding
        found = assess(completed(build, scenario), scenario)
        completion = Completion(assessment=found, assumed=(), cannot=())
    return Opened(
        name=sketch.name or str(table.get("name", "")) or path.name,
        path=str(path),
        sketch=sketch,
        scenario=scenario,
        catalog=catalog,
        completion=completion,
        is_asked=is_asked,
        is_by_hand=by_hand,
        stamp=str(table.get("stamp", "")),
    )


def _shipped() -> Catalog | None:
    """Return the shipped catalog, from which mending parts can come."""
    folders = list(shipped_catalogs().values())[:1]
    return read_catalog(folders) if folders else None


def open_builds(paths: Sequence[Path], asked: Question) -> list[Opened]:
    """Return the machines of several files; the faults of all of them together.

    Raises
    ------
    BuildError
        With every fault of every file.
    """
    opened: list[Opened] = []
    faults: list[Fault] = []
    for path in paths:
        try:
            opened.append(open_build(path, asked))
        except InputError as error:
            faults += error.faults
    if faults:
        raise BuildError(faults)
    return opened

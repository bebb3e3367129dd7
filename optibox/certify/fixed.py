"""An answer put into the flat program: whether it is there, and at what price."""

from collections.abc import Callable

from optibox.assess import Assessment
from optibox.catalog.catalog import Catalog
from optibox.certify.columns import Flat, Row
from optibox.certify.menu import Choice
from optibox.certify.program import Solved, flat_program
from optibox.scenario import Scenario


def choice_of(found: Assessment) -> Choice:
    """Return the menu entry of a build."""
    plan = found.build.operation
    return Choice(
        layout=plan.layout,
        n_parity=plan.n_parity,
        write_mode=plan.write_mode,
        timeout_min=plan.timeout_min,
        n_data=sum(use.role == "data" for use in found.build.drives),
        cache=plan.cache,
    )


def priced(
    found: Assessment,
    catalog: Catalog,
    scenario: Scenario,
    aim: str,
    solve: Callable[[Flat], Solved | None],
) -> float | None:
    """Return what the flat program asks for a build; nothing where it is not in it.

    Parameters
    ----------
    found : Assessment
        The build.
    catalog, scenario
        What the program is written for.
    aim : str
        What is made least.
    solve : callable
        The solver that is to be believed.

    Raises
    ------
    UnsettledError
        If the solver comes to no end.
    """
    own = choice_of(found)
    flat = flat_program(catalog, scenario, aim, lambda c: c == own)
    if not flat.menu.choices:
        return None
    for row, value in _settings(flat, found):
        flat.row("fixed", row, "=", value)
    solved = solve(flat)
    return None if solved is None else solved.objective


def _settings(flat: Flat, found: Assessment) -> list[tuple[Row, float]]:
    """Return expressions with the values that a build gives them."""
    build = found.build
    counts = {entry.item.key: float(entry.count) for entry in build.items}
    rows: list[tuple[Row, float]] = [
        (dict(flat.counts[item.key]), counts.get(item.key, 0.0))
        for item in flat.domain.items
    ]
    roles = [(use.key, use.role) for use in build.drives]
    for item in flat.menu.drives:
        for role in ("data", "parity"):
            row = flat.drives(item, role)
            rows.append((row, float(roles.count((item.key, role)))))
    (board,) = [e.item.key for e in build.items if e.item.part.kind == "board"]
    for use in build.slots:
        for letter in ("c", "m"):
            name = f"{letter}:{use.key}:{board}:{use.slot}"
            if name in flat.columns:
                rows.append(({name: 1.0}, 1.0))
    return rows

"""optibox plans a small archive server: parts, wiring, operation, proven.

The library in four names: ``read_scenario`` and ``read_catalog`` read what is asked
and what exists, ``plan`` finds the best build, ``assess`` judges any build without a
solver. Names are loaded when they are first used, so that ``import optibox`` and
``optibox --help`` stay quick.
"""

import sys
from importlib import import_module
from types import ModuleType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from optibox.assess import Assessment, assess
    from optibox.build import Build, load_build, save_build
    from optibox.catalog.catalog import Catalog
    from optibox.catalog.read import read_catalog
    from optibox.errors import (
        BuildError,
        CatalogError,
        InputError,
        OptiboxError,
        ScenarioError,
    )
    from optibox.scenario import Scenario, read_scenario
    from optibox.search.plan import plan
    from optibox.search.result import Plan, Proof

__all__ = [
    "Assessment",
    "Build",
    "BuildError",
    "Catalog",
    "CatalogError",
    "InputError",
    "OptiboxError",
    "Plan",
    "Proof",
    "Scenario",
    "ScenarioError",
    "assess",
    "load_build",
    "plan",
    "read_catalog",
    "read_scenario",
    "save_build",
]

_HOMES = {
    "optibox.assess": ("Assessment", "assess"),
    "optibox.build": ("Build", "load_build", "save_build"),
    "optibox.catalog.catalog": ("Catalog",),
    "optibox.catalog.read": ("read_catalog",),
    "optibox.errors": (
        "BuildError",
        "CatalogError",
        "InputError",
        "OptiboxError",
        "ScenarioError",
    ),
    "optibox.scenario": ("Scenario", "read_scenario"),
    "optibox.search.plan": ("plan",),
    "optibox.search.result": ("Plan", "Proof"),
}
_HOME_OF = {name: home for home, names in _HOMES.items() for name in names}


def __getattr__(name: str) -> object:
    """Load a public name from its module on first use."""
    if name not in _HOME_OF:
        msg = f"module 'optibox' has no attribute {name!r}"
        raise AttributeError(msg)
    value: object = getattr(import_module(_HOME_OF[name]), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    """Return what ``dir`` shows."""
    return sorted({*globals(), *__all__})


class _Package(ModuleType):
    """The package itself; ``optibox.assess`` is the function, never its module.

    Importing a module sets it as an attribute of its package; the module ``assess``
    bears the name of the function that users call.
    """

    def __setattr__(self, name: str, value: object) -> None:
        if name == "assess" and isinstance(value, ModuleType):
            value = value.assess
        super().__setattr__(name, value)


sys.modules[__name__].__class__ = _Package

"""Everything that optibox refuses, as classes that carry where and what."""

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class Fault:
    """One fault of an input file: where, what, what is allowed, what to do."""

    path: str
    line: int = 0
    field: str = ""
    value: str = ""
    problem: str = ""
    remedy: str = ""

    def __str__(self) -> str:
        """Return the fault as one line for a person."""
        place = self.path + (f", line {self.line}" if self.line else "")
        place += f", {self.field}" if self.field else ""
        value = f"{self.value!r} " if self.value else ""
        return f"{place}: {value}{self.problem}. {self.remedy}".rstrip()


class OptiboxError(Exception):
    """Base of everything that optibox raises on purpose."""


class InputError(OptiboxError):
    """Faults of input files, all of them at once, sorted by place."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(sorted(faults))
        super().__init__("\n".join(str(fault) for fault in self.faults))


class CatalogError(InputError):
    """A catalog cannot be read or its rows contradict each other."""


class ScenarioError(InputError):
    """A scenario cannot be read or asks for something meaningless."""


class BuildError(InputError):
    """A build file cannot be read or names parts that do not exist."""


class SolverLimitError(OptiboxError):
    """The time limit passed before any build was found."""


class InternalError(OptiboxError):
    """Program and evaluator disagree: a defect of optibox, never of the input."""

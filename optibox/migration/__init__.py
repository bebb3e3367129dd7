"""Getting from the drives that hold data to a build, copy by copy.

The rules of a safe move, which search, replay and tests share:

- a drive is emptied only after every file on it was copied and read back elsewhere,
  or its second copy elsewhere was read back: two verified copies exist at that moment;
- sources are only read; their free room is left alone;
- a file system of the array takes files once one drive of each of its groups is in it
  (pairs are completed later; a stripe is made whole or not at all);
- at no time stand more drives in the machine than it has bays and ports.
"""

from optibox.migration.condition import Inequality, conditions
from optibox.migration.records import (
    BORROWED,
    ELSEWHERE,
    Action,
    Disk,
    Places,
    Route,
    Shortage,
    Source,
    Step,
    Task,
    Unit,
)
from optibox.migration.replay import replay
from optibox.migration.route import route_of, shortage_of, solve
from optibox.migration.shelf import candidates
from optibox.migration.task import held_b, task_of

__all__ = [
    "BORROWED",
    "ELSEWHERE",
    "Action",
    "Disk",
    "Inequality",
    "Places",
    "Route",
    "Shortage",
    "Source",
    "Step",
    "Task",
    "Unit",
    "candidates",
    "conditions",
    "held_b",
    "replay",
    "route_of",
    "shortage_of",
    "solve",
    "task_of",
]

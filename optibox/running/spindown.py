"""All that can be said about when a machine's drives should sleep, in one record."""

from dataclasses import dataclass

from optibox.build import Build
from optibox.running.policy import Duty, PolicyTable, judged, policy_table, run_under
from optibox.running.policy_breakeven import BreakEven, break_evens
from optibox.running.policy_drives import OwnTimeouts, own_timeouts
from optibox.running.policy_hours import HourChoice, hour_choice
from optibox.scenario import Scenario


@dataclass(frozen=True, slots=True, kw_only=True)
class Spindown:
    """Policies on one build, each drive by itself, break-evens, hours."""

    table: PolicyTable
    own: OwnTimeouts
    break_evens: tuple[BreakEven, ...]
    hours: HourChoice


def spindown(build: Build, scenario: Scenario, duty: Duty | None = None) -> Spindown:
    """Return everything about spinning down the drives of one build.

    Drives by themselves, break-evens and hours are those of the best policy.
    """
    table = policy_table(build, scenario, duty=duty)
    best = judged(run_under(build, table.best.policy), scenario, duty)
    return Spindown(
        table=table,
        own=own_timeouts(best, duty=duty),
        break_evens=break_evens(best),
        hours=hour_choice(best, duty),
    )

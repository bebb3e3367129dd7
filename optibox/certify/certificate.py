"""A second opinion on a plan: another formulation, another solver, the same physics."""

import time
from collections.abc import Iterator
from itertools import groupby

from optibox.assess import Assessment
from optibox.catalog.catalog import Catalog
from optibox.certify import columns, fit, menu, program, rounds, wires
from optibox.certify.fixed import choice_of, priced
from optibox.certify.menu import Choice, choices_of
from optibox.certify.program import flat_program
from optibox.certify.records import Certificate, Verdict
from optibox.certify.rounds import Oracle
from optibox.certify.solvers import NAMES, SOLVERS, UnsettledError
from optibox.criteria import AIMS, PART_PRICE
from optibox.scenario import Scenario

WHOLE = 120
"""Menu entries up to which the program is put in one piece."""
SHARED_PACKAGES = ("optibox.physics", "optibox.figures", "optibox.rules")


def shared_names() -> tuple[str, ...]:
    """Return the functions of physics, figures and rules that the program calls.

    They are the planner's too: what is wrong in one of them is wrong in both.
    """
    found = {"optibox.assess.assess"}
    for module in (columns, fit, menu, program, rounds, wires):
        for thing in vars(module).values():
            home = getattr(thing, "__module__", None) or ""
            name = getattr(thing, "__qualname__", "")
            if home.startswith(SHARED_PACKAGES) and name[:1].islower():
                found.add(f"{home}.{name}")
    return tuple(sorted(found))


def certify(
    answer: Assessment | None,
    catalog: Catalog,
    scenario: Scenario,
    *,
    time_s: float = 120.0,
    solver: str = "cbc",
) -> Certificate:
    """Have a second formulation and solver look for something better than an answer.

    Parameters
    ----------
    answer : Assessment or None
        The plan's build; nothing where it says that nothing fits.
    catalog : Catalog
        The whole of it: no part is left out beforehand.
    scenario : Scenario
        What is asked. For an aim that is made as large as possible the question is
        whether anything is faster.
    time_s : float
        Time for all of it. [s].
    solver : {"cbc", "highs"}
        Who solves; HiGHS is the planner's own.
    """
    case = _Case(answer, catalog, scenario, time.monotonic() + time_s, solver)
    started = time.monotonic()
    why = case.fault()
    if not why:
        case.go()
    verdict: Verdict = "certified" if case.is_done else "not settled"
    if why or case.why:
        verdict = "void"
    elif case.better is not None:
        verdict = "counter-example"
    return Certificate(
        verdict=verdict,
        solver=NAMES[solver],
        aim=case.aim.name,
        value=case.value,
        priced=case.priced,
        margin=case.margin,
        better=case.better,
        why=why or case.why,
        n_entries=case.n_entries,
        n_settled=case.n_settled,
        n_rounds=case.n_rounds,
        n_judged=case.n_judged,
        n_parts=len(catalog.parts),
        n_owned=sum(lot.count for lot in scenario.owned),
        seconds=time.monotonic() - started,
        shared=shared_names(),
    )


class _Case:
    """One question on its way."""

    def __init__(
        self,
        answer: Assessment | None,
        catalog: Catalog,
        scenario: Scenario,
        deadline: float,
        solver: str,
    ) -> None:
        self.answer, self.catalog, self.deadline = answer, catalog, deadline
        self.solver = SOLVERS[solver]
        self.aim = AIMS[scenario.choices.aim]
        self.value = None if answer is None else self.aim.value_of(answer)
        self.priced: float | None = None
        self.asked, self.known = scenario, answer
        self.least = self.aim.aim
        # the proof leaves two tolerances open, the cut-off is one below
        self.margin = 3 * self.aim.tolerance
        if self.aim.is_maximised:
            # nothing faster: the need is raised to just above, and nothing may fit
            self.least, self.known = "total cost", None
            if self.value is not None:
                rate = self.value * (1 + 1e-6) + 1e-3
                needs = scenario.needs.model_copy(update={self.aim.need: rate})
                self.asked = scenario.model_copy(update={"needs": needs})
        elif answer is not None and self.least == "total cost":
            items = answer.build.items
            bought = sum(e.count for e in items if not e.item.is_owned)
            self.margin += PART_PRICE * bought
        self.scenario = scenario
        self.better: Assessment | None = None
        self.is_done, self.why = False, ""
        self.n_entries = self.n_settled = self.n_rounds = self.n_judged = 0

    def fault(self) -> str:
        """Return why a certificate would be worth nothing; empty where it is not so."""
        if self.answer is None:
            return ""
        left = max(1.0, self.deadline - time.monotonic())
        try:
            self.priced = priced(
                self.answer,
                self.catalog,
                self.scenario,
                self.least,
                lambda flat: self.solver(flat, left),
            )
        except UnsettledError:
            return "the solver came to no end on the answer itself"
        if self.priced is None:
            return "the answer itself does not fit the flat program"
        value = AIMS[self.least].value_of(self.answer)
        if self.priced > value + AIMS[self.least].tolerance:
            return (
                f"the flat program asks {self.priced:.4f} for the answer, the "
                f"evaluator {value:.4f}"
            )
        return ""

    def go(self) -> None:
        """Take the menu group by group until all is settled, or something is better."""
        groups = list(self._groups())
        self.n_entries = sum(len(group) for group in groups)
        for group in groups:
            if not self._settle(frozenset(group)):
                return
            self.n_settled += len(group)
        self.is_done = True

    def _groups(self) -> Iterator[list[Choice]]:
        """Yield entries that differ in timeouts alone, the nearest to the answer first."""
        every = list(choices_of(self.asked))
        if len(every) <= WHOLE:
            yield every
            return
        own = None if self.answer is None else choice_of(self.answer)

        def family(c: Choice) -> tuple[int, int, str, int, str, str, int]:
            far = own is not None and c.layout != own.layout
            apart = abs(c.n_data - own.n_data) if own is not None else c.n_data
            return (
                int(far),
                apart,
                c.layout,
                c.n_parity,
                c.write_mode,
                c.cache,
                c.n_data,
            )

        for _, group in groupby(sorted(every, key=family), family):
            yield list(group)

    def _settle(self, group: frozenset[Choice]) -> bool:
        """Return whether nothing better is in a group of entries, proven."""
        if time.monotonic() > self.deadline:
            return False
        flat = flat_program(self.catalog, self.asked, self.least, group.__contains__)
        oracle = Oracle(
            flat,
            self.least,
            self.deadline,
            solver=self.solver,
            ends_at_better=True,
        )
        if self.known is not None and self.value is not None:
            oracle.answer.value = self.value - self.margin + oracle.tolerance
            oracle.answer.best = self.known
            flat.ceiling = self.value - self.margin
        found = oracle.run()
        self.n_rounds += found.n_rounds
        self.n_judged += found.n_judged
        if found.overpriced:
            self.why = (
                f"the flat program asks more than the evaluator: {found.overpriced}"
            )
            return False
        if found.n_better:
            self.better = found.best
            return False
        return found.is_proven

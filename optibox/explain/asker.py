"""Questions to the planner, each asked once; known builds answer what they can."""

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from optibox.assess import Assessment, assess
from optibox.build import Build, items_of
from optibox.catalog.catalog import Catalog
from optibox.explain.requirements import aimed_limits
from optibox.scenario import Scenario
from optibox.search import plan as planner
from optibox.search.result import Plan

Progress = Callable[[str], None]


class StoppedError(Exception):
    """The time is over or the user interrupted: a question stays open.

    ``bound`` is what was proven of an aim by then: no build is better.
    """

    def __init__(self, bound: float = -float("inf")) -> None:
        self.bound = bound
        super().__init__("a question stays open")


class _EnoughError(KeyboardInterrupt):
    """Raised inside a search as soon as it has a build: more is not asked.

    The search answers an interrupt with its best build so far.
    """


@dataclass
class Asker:
    """Asks the planner about variants of a scenario.

    Every build that comes back is kept. Before a variant is searched, the kept builds
    are judged under it by the evaluator: one that is fit there answers that question
    without a search.
    """

    catalog: Catalog
    time_limit_s: float | None = None
    on_progress: Progress | None = None
    is_stopped: bool = False
    n_searches: int = 0
    n_known: int = 0
    """Questions that a known build or an equal question answered."""
    _builds: list[Build] = field(default_factory=list)
    _best: dict[str, Plan] = field(default_factory=dict)
    _least: dict[str, Plan] = field(default_factory=dict)
    _started: float = field(default_factory=time.monotonic)

    @property
    def seconds(self) -> float:
        """Return the time since the first question. [s]."""
        return time.monotonic() - self._started

    def share(self, n_left: int) -> float | None:
        """Return the time for one of some questions that are left. [s]."""
        if self.time_limit_s is None:
            return None
        return max(1.0, (self.time_limit_s - self.seconds) / (n_left + 1))

    def with_catalog(self, catalog: Catalog) -> "Asker":
        """Return one that asks about another catalog and within the same time."""
        return Asker(
            catalog=catalog,
            time_limit_s=self.time_limit_s,
            on_progress=self.on_progress,
            is_stopped=self.is_stopped,
            _started=self._started,
        )

    def learn(self, found: Assessment) -> None:
        """Keep a build that was found elsewhere."""
        if found.build not in self._builds:
            self._builds.insert(0, found.build)

    def build_for(
        self, scenario: Scenario, words: str = "", *, is_aim_first: bool = False
    ) -> Assessment | None:
        """Return any build that is fit for a scenario, or nothing where none exists.

        Where a limit has an aim, that aim is made least without the limit: to prove an
        optimum above the limit is far less work than to refute every way one by one.

        Parameters
        ----------
        scenario : Scenario
            What is asked.
        words : str
            The question, for those who wait.
        is_aim_first : bool
            Expect that to be the quicker way, as where little else is asked.

        Raises
        ------
        StoppedError
            If that could not be found out in time.
        """
        found = self.known(scenario)
        if found is not None:
            self.n_known += 1
            return found
        patience, ways = _FIRST_S, [self._any, self._by_aim]
        if is_aim_first:
            patience, ways = 2 * _FIRST_S, ways[::-1]
        while True:
            for ask in ways:
                answer = ask(scenario, words, patience)
                if answer is not None:
                    return answer.found
            patience *= 2

    def _any(
        self, scenario: Scenario, words: str, patience_s: float
    ) -> "_Answer | None":
        """Return what a search for any build finds; nothing where it takes longer."""
        has_aim = next(aimed_limits(scenario), None) is not None
        watch = _Watch(self, words, enough=INFINITE)
        found = self._asked(
            _aiming(scenario, "total cost"), watch, patience_s if has_aim else None
        )
        return _Answer(found.assessment) if found else None

    def _by_aim(
        self, scenario: Scenario, words: str, patience_s: float
    ) -> "_Answer | None":
        """Return what making a limited figure least finds, without its limit."""
        limit = next(aimed_limits(scenario), None)
        if limit is None or not limit.aim or limit.value is None:
            return None
        wider = _aiming(limit.without(scenario), limit.aim)
        found = self._asked(wider, _Watch(self, words, enough=limit.value), patience_s)
        return _Answer(self.known(scenario)) if found else None

    def best(
        self,
        scenario: Scenario,
        aim: str,
        words: str = "",
        patience_s: float | None = None,
    ) -> Plan:
        """Return the proven best build by an aim, cost second, or that there is none.

        Raises
        ------
        StoppedError
            If that could not be proven in time.
        """
        asked = _aiming(scenario, aim)
        key = asked.model_dump_json()
        if key not in self._best:
            found = self._search(asked, _Watch(self, words), patience_s)
            if found.status not in ("optimal", "infeasible"):
                raise StoppedError(found.proof.bound)
            self._best[key] = found
        else:
            self.n_known += 1
        return self._best[key]

    def _asked(
        self, asked: Scenario, watch: "_Watch", patience_s: float | None
    ) -> Plan | None:
        """Return a search's answer, remembered; nothing where patience ended it."""
        key = asked.model_dump_json()
        proven = self._least.get(key) or self._best.get(key)
        if proven is not None:
            self.n_known += 1
            return proven
        found = self._search(asked, watch, patience_s)
        is_proven = found.status in ("optimal", "infeasible")
        if is_proven and not watch.had_enough:
            self._least[key] = found
        return found if is_proven or watch.had_enough else None

    def known(self, scenario: Scenario) -> Assessment | None:
        """Return a kept build that is fit for a scenario."""
        return next(self._fit(scenario), None)

    def _fit(self, scenario: Scenario) -> Iterator[Assessment]:
        keys = {item.key for item in items_of(self.catalog, scenario)}
        for build in self._builds:
            if admits(scenario, keys, build):
                found = assess(build, scenario)
                if found.is_fit:
                    yield found

    def closest(
        self, scenario: Scenario, measure: Callable[[Assessment], float]
    ) -> Assessment | None:
        """Return the kept build of least measure that is fit for a scenario."""
        return min(self._fit(scenario), key=measure, default=None)

    def _search(
        self, asked: Scenario, watch: "_Watch", patience_s: float | None
    ) -> Plan:
        """Return a search's answer, proven or not.

        Raises
        ------
        StoppedError
            If the time of all searches is over, or the user interrupted.
        """
        left, started = self._time_left(), time.monotonic()
        limit = min(left, patience_s) if patience_s is not None else left
        self.n_searches += 1
        found = planner.plan(
            self.catalog,
            asked,
            time_limit_s=None if limit == INFINITE else limit,
            on_progress=watch,
        )
        if found.assessment is not None:
            self.learn(found.assessment)
        is_answer = found.status in ("optimal", "infeasible") or watch.had_enough
        if not is_answer:
            is_interrupt = time.monotonic() - started < 0.9 * limit
            if is_interrupt or limit == left:
                self.is_stopped = True
                raise StoppedError(found.proof.bound)
        return found

    def _time_left(self) -> float:
        left = INFINITE
        if self.time_limit_s is not None:
            left = self.time_limit_s - self.seconds
        if self.is_stopped or left <= 0:
            self.is_stopped = True
            raise StoppedError
        return left


@dataclass(frozen=True, slots=True)
class _Answer:
    """That a build exists, or that none does."""

    found: Assessment | None


_FIRST_S = 3.0
"""Patience with the first way to ask a question before the other one is tried; it is
doubled in turn. Which way is quicker depends on the question, by a factor of ten."""

INFINITE = float("inf")


@dataclass
class _Watch:
    """What a search tells on its way; ends it where more is not asked.

    Without ``enough`` the search runs to its end. With it, a build of that value ends
    it, and so does the second half of a search that makes another aim least: there the
    cheapest among equally good builds is sought.
    """

    asker: Asker
    words: str
    enough: float | None = None
    had_enough: bool = False
    _has_build: bool = False

    def __call__(self, line: str) -> None:
        """Show progress, and end the search where it may end."""
        if self.asker.on_progress:
            self.asker.on_progress(f"search {self.asker.n_searches}: {self.words}")
        if self.enough is None:
            return
        best = _best_of(line)
        if self._has_build and best == INFINITE:  # the second half has begun
            raise _EnoughError
        self._has_build = self._has_build or best < INFINITE
        # the line is rounded; that a build is good enough is for the evaluator to say
        if best < INFINITE and best <= self.enough - _ROUNDED:
            self.had_enough = True
            raise _EnoughError


_ROUNDED = 0.01
"""How far a value in a line of progress may be off."""


def _best_of(line: str) -> float:
    """Return the best value that a line of progress tells; infinite where none.

    Examples
    --------
    >>> _best_of("bound 9.80, best 9.83"), _best_of("bound 9.80, best inf")
    (9.83, inf)
    """
    try:
        return float(line.rpartition("best ")[2])
    except ValueError:
        return INFINITE


def admits(scenario: Scenario, keys: set[str], build: Build) -> bool:
    """Return whether a build keeps to what a scenario lets the planner choose from.

    Parameters
    ----------
    scenario : Scenario
        Its choices and bans.
    keys : set of str
        Keys of the items on offer under it.
    build : Build
        Found under another variant of the scenario.
    """
    choices, run = scenario.choices, build.operation
    used = {entry.item.key for entry in build.items + build.spares}
    stops = (
        choices.allow_never
        if run.timeout_min is None
        else run.timeout_min in choices.timeouts_min
    )
    mode = run.write_mode == "plain" or run.write_mode in choices.write_modes
    is_chosen = run.layout in choices.layouts and run.cache in choices.caches
    return used <= keys and stops and mode and is_chosen


def _aiming(scenario: Scenario, aim: str) -> Scenario:
    choices = scenario.choices.model_copy(update={"aim": aim})
    return scenario.model_copy(update={"choices": choices})

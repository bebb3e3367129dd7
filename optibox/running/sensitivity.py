"""Which inputs change the decision, and at which value it flips.

Each input is moved by itself from low to high. Between two positions with different
best machines the costs of the two are made equal; if no third machine is better there,
that is where the decision flips, else the search goes on at both sides. Tariff and
prices enter costs in straight lines, so that for them the flips are exact and none is
missed; elsewhere a machine that is best in a short stretch alone could be.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from optibox.running.sensitivity_decision import NEVER, Decision, Option
from optibox.running.sensitivity_inputs import INPUTS, Corner, Input

STRAIGHT: frozenset[Input] = frozenset({"tariff", "prices"})
"""Inputs in which the cost of a machine is a straight line on each side of mid."""

SAME_MONEY = 0.01
"""Machines within a minor unit are equally good. [currency]"""

CLOSE = 1e-3
"""Positions this near are one. [share of the way from mid to an end]"""

_DEEPEST = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """From where to where machines of the same parts are best."""

    start: float
    end: float
    options: tuple[Option | None, ...]
    """In order; where there are several they differ in cables or operation alone."""

    @property
    def option(self) -> Option | None:
        """Return the machine that is best at the start."""
        return self.options[0]

    @property
    def last(self) -> Option | None:
        """Return the machine that is best at the end."""
        return self.options[-1]


@dataclass(frozen=True, slots=True, kw_only=True)
class Effect:
    """What one input does to the decision, all others as given."""

    name: Input
    stretches: tuple[Stretch, ...]
    """From low (-1) to high (1); stretches with the same parts are one."""

    best_costs: tuple[float, float, float]
    """Of the best machine at low, mid, high. [currency]"""

    kept_costs: tuple[float, float, float]
    """Of the machine that is best as given, at low, mid, high. [currency]"""

    @property
    def flips(self) -> tuple[float, ...]:
        """Return the positions at which the decision changes."""
        return tuple(stretch.start for stretch in self.stretches[1:])

    @property
    def regrets(self) -> tuple[float, float]:
        """Return what keeping to the machine that is best as given costs, low, high."""
        low, high = (
            kept - best if kept < NEVER else NEVER
            for kept, best in (
                (self.kept_costs[0], self.best_costs[0]),
                (self.kept_costs[2], self.best_costs[2]),
            )
        )
        return low, high


@dataclass(frozen=True, slots=True, kw_only=True)
class Sensitivity:
    """The best machine as given, and what each input does to that."""

    option: Option
    cost: float
    effects: tuple[Effect, ...]


def sensitivity(
    decision: Decision, inputs: Sequence[Input] = INPUTS
) -> Sensitivity | None:
    """Return which inputs change a decision, and where.

    Parameters
    ----------
    decision : Decision
        What can be chosen.
    inputs : sequence of str
        Inputs to move, each by itself.

    Returns
    -------
    Sensitivity or None
        Nothing where no machine meets all needs as given.
    """
    option, cost = decision.best({})
    if option is None:
        return None
    effects = tuple(_effect(decision, name, option) for name in inputs)
    return Sensitivity(option=option, cost=cost, effects=effects)


def corner_of(name: Input, position: float) -> Corner:
    """Return the corner at which one input is moved alone."""
    return {name: position} if position else {}


def _effect(decision: Decision, name: Input, kept: Option) -> Effect:
    at = {x: decision.best(corner_of(name, x)) for x in (-1.0, 0.0, 1.0)}
    found: list[Stretch] = []
    for start, end in ((-1.0, 0.0), (0.0, 1.0)):
        found += _stretches(
            decision, name, (start, at[start][0]), (end, at[end][0]), _DEEPEST
        )
    costs = tuple(at[x][1] for x in (-1.0, 0.0, 1.0))
    kept_costs = tuple(
        decision.cost(kept, corner_of(name, x)) for x in (-1.0, 0.0, 1.0)
    )
    return Effect(
        name=name,
        stretches=tuple(_joined(found)),
        best_costs=costs,  # type: ignore[arg-type]  # three positions
        kept_costs=kept_costs,  # type: ignore[arg-type]
    )


End = tuple[float, Option | None]


def _stretches(
    decision: Decision, name: Input, low: End, high: End, depth: int
) -> Iterator[Stretch]:
    (start, first), (end, last) = low, high
    if _same(first, last) or end - start < CLOSE or depth == 0:
        middle = end if _same(first, last) else (start + end) / 2
        yield Stretch(start=start, end=middle, options=(first,))
        if middle < end:
            yield Stretch(start=middle, end=end, options=(last,))
        return
    cross = _crossing(decision, name, low, high)
    between, cost = decision.best(corner_of(name, cross))
    known = min(_cost(decision, o, name, cross) for o in (first, last))
    is_inside = start + CLOSE < cross < end - CLOSE
    if between is not None and cost < known - SAME_MONEY and is_inside:
        middle_end: End = (cross, between)
        yield from _stretches(decision, name, low, middle_end, depth - 1)
        yield from _stretches(decision, name, middle_end, high, depth - 1)
        return
    yield Stretch(start=start, end=cross, options=(first,))
    yield Stretch(start=cross, end=end, options=(last,))


def _same(one: Option | None, other: Option | None) -> bool:
    if one is None or other is None:
        return one is other
    return one.key == other.key


def _cost(
    decision: Decision, option: Option | None, name: Input, position: float
) -> float:
    return NEVER if option is None else decision.cost(option, corner_of(name, position))


def _crossing(decision: Decision, name: Input, low: End, high: End) -> float:
    """Return where the first machine stops to be as good as the last."""
    (start, first), (end, last) = low, high

    def lead(x: float) -> float:
        one, other = (_cost(decision, o, name, x) for o in (first, last))
        if first is None:  # where nothing fits, the other machine must not fit either
            return -NEVER if other == NEVER else NEVER
        if one == NEVER:
            return NEVER
        return -NEVER if other == NEVER else one - other

    at_start, at_end = lead(start), lead(end)
    if name in STRAIGHT and abs(at_start) < NEVER and abs(at_end) < NEVER:
        rise = at_end - at_start
        return start if rise <= 0 else start - at_start / rise * (end - start)
    while end - start > CLOSE / 8:
        middle = (start + end) / 2
        if lead(middle) < 0:
            start = middle
        else:
            end = middle
    return (start + end) / 2


def _joined(found: Sequence[Stretch]) -> Iterator[Stretch]:
    """Yield stretches, neighbours with the same parts joined, empty ones left out."""
    held: Stretch | None = None
    for stretch in found:
        if stretch.end - stretch.start <= 0.0 and held is not None:
            continue
        if held is not None and _same_parts(held.option, stretch.option):
            options = (*held.options, *stretch.options)
            held = Stretch(start=held.start, end=stretch.end, options=options)
            continue
        if held is not None:
            yield held
        held = stretch
    if held is not None:
        yield held


def _same_parts(one: Option | None, other: Option | None) -> bool:
    if one is None or other is None:
        return one is other
    return one.parts_key == other.parts_key

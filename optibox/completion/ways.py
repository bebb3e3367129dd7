"""Records of the search for the best wiring: ways of drives, and what is taken so far."""

from dataclasses import dataclass, field

from optibox.completion.seats import CableKind, Ends


@dataclass(frozen=True, slots=True, kw_only=True)
class Effort:
    """How far a search goes, and how much of what it finds is judged."""

    steps: int
    """Steps of the search; nearly every machine needs a few hundred."""
    ways: int
    """Ways of a machine that the evaluator judges."""
    slot_plans: int
    """Ways to fill the slots for each of which that is done."""


THOROUGH = Effort(steps=12_000, ways=24, slot_plans=12)
QUICK = Effort(steps=400, ways=2, slot_plans=2)
"""For trying parts out one after the other: the first good way is enough."""


@dataclass(frozen=True, slots=True)
class Option:
    """One way for one drive."""

    port: int | None
    """Index of the port group; nothing = no port."""
    bay: int | None
    """Index of the bay group; nothing = no bay."""
    cost: float
    kind: CableKind | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """One distribution of all drives."""

    options: tuple[Option, ...]
    """One for each rider, in the order of the riders."""
    cost: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Undo:
    """What a step changed, so that it can be taken back."""

    option: Option
    price: float
    far: dict[tuple[str, int], str]
    near: dict[int, str]
    n_adapters: int
    listed: list[str]
    told: dict[str, Ends]


@dataclass(kw_only=True)
class State:
    """What is taken on the way down, and taken back on the way up."""

    ports: list[int]
    bays: list[int]
    far: dict[tuple[str, int], str]
    near: dict[int, str]
    listed: dict[CableKind, list[str]]
    n_adapters: int
    told: dict[str, Ends]
    chosen: list[Option] = field(default_factory=list)
    cost: float = 0.0

"""Cautions, each beside the step that it concerns and all at the end."""

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """One caution; ``steps`` name assembly steps or sections of the answer."""

    key: str
    steps: tuple[str, ...]
    text: str


CAUTIONS: tuple[Caution, ...] = (
    Caution(
        key="estimates",
        steps=("figures",),
        text="All figures are estimates for planning. Local electrical codes, the "
        "makers' instructions and qualified people come before anything said here.",
    ),
    Caution(
        key="unplug",
        steps=("case and power", "board", "cards"),
        text="Switch off and pull the mains plug before a part goes in or comes out, "
        "and discharge yourself (wrist strap or bare metal) before touching boards.",
    ),
    Caution(
        key="modular cables",
        steps=("case and power", "power to the drives"),
        text="Use a modular supply's own cables alone: plugs of another make can fit "
        "and be wired differently, which destroys drives.",
    ),
    Caution(
        key="platters",
        steps=("drives",),
        text="Let platters run out for 30 s after power is off before a drive is "
        "moved.",
    ),
    Caution(
        key="labels",
        steps=("drives",),
        text="Before a drive is taken out or moved, write down its serial number and "
        "its bay: pulling the wrong one costs a second failure.",
    ),
    Caution(
        key="copies",
        steps=("drives", "run"),
        text="Before a drive is moved, initialised or rebuilt, have two copies of "
        "what it holds and read both back.",
    ),
    Caution(
        key="cable ends",
        steps=("data cables",),
        text="Forward and reverse breakout cables look alike and do not replace each "
        "other: check which end is the multi-lane one.",
    ),
    Caution(
        key="moulded adapters",
        steps=("power to the drives",),
        text="No moulded 4-pin-to-SATA power adapters: they have caught fire. Crimped "
        "ones only, and no more on each than its plugs carry.",
    ),
    Caution(
        key="overload",
        steps=("power to the drives", "figures"),
        text="Do not load a lead, a power strip, a circuit or a UPS beyond its rating; "
        "drives that spin up take 3 to 5 times their idle current.",
    ),
    Caution(
        key="meter",
        steps=("figures",),
        text="Measure with an enclosed, approved plug-in meter. Never open a supply or "
        "a cord, and never touch live wiring.",
    ),
    Caution(
        key="backup",
        steps=("run",),
        text="Parity and mirrors are no backup: deletion, theft, fire, surges and "
        "faulty software reach all drives at once.",
    ),
    Caution(
        key="wipe",
        steps=("shelf", "drives"),
        text="Wipe a drive before it leaves your hands.",
    ),
)


def cautions_for(step: str) -> tuple[Caution, ...]:
    """Return the cautions of one step."""
    return tuple(caution for caution in CAUTIONS if step in caution.steps)


def by_key() -> Mapping[str, Caution]:
    """Return all cautions by key."""
    return {caution.key: caution for caution in CAUTIONS}

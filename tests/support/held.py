"""A theme of tiny instances: owned drives that hold data, and what stands beside them.

It has a list of its own, so that the instances of the other themes stay what they are.
"""

from optibox.catalog.storage import HardDrive, SolidStateDrive
from tests.support.enumerate import Outcome, outcome_of
from tests.support.parts import make
from tests.support.tiny import (
    Chooser,
    Instance,
    Kit,
    Seeded,
    Theme,
    caches,
    drawn,
    layouts,
    loosened,
    mixed_sizes,
    multipliers,
    owned_machine,
    shared_ports,
    small_drives,
)

ARRAYS = (
    ("independent",),
    ("independent",),
    ("pairs",),
    ("striped",),
    ("striped pairs",),
    ("independent", "pairs", "striped", "striped pairs"),
)


def held_drives(kit: Kit, c: Chooser) -> None:
    """Owned drives with data, alone or of an old array, and empty ones to put beside."""
    array = c.pick(("", "", "old"))
    for name in c.pick((("old-a",), ("old-a", "old-b"), ("old-a", "old-b"))):
        kit.lists["owned"].append(_lot(name, array, c))
    if c.pick((True, True, False)):
        kit.lists["owned"].append(_beside(c))
    if c.pick((False, False, True)):
        kit.lists["owned"].append({"id": "case"})
    if c.pick((False, False, True)):
        kit.lists["spares"].append({"id": "hdd-4", "count": 1})
    if c.pick((False, True)):
        kit.add(HardDrive, "hdd-6", tb=6, price=130)
    kit.change("hdd-4", price=c.pick((95, 60)))
    kit.change("case", bays_35=c.pick((2, 3, 4)))
    kit.change("board", sata_ports=c.pick((3, 4, 6)))
    kit.say("choices", layouts=c.pick(ARRAYS))
    kit.say("limits", array_drives=c.pick((3, 4, 4)))
    kit.say(
        "needs", failures_survived=c.pick((0, 1, 1)), usable_tb=c.pick((3, 3, 5, 7))
    )


def _lot(name: str, array: str, c: Chooser) -> dict:
    tb = c.pick((4, 4, 6, 3))
    return {
        "id": name,
        "part": make(HardDrive, name, tb=tb, idle_w=c.pick((4, 6))),
        "count": c.pick((1, 2, 2)),
        "held_tb": c.pick((None, 1, 2, 2.5, tb)),
        "second_copy": c.pick((False, False, False, True)),
        "old_array": c.pick((array, array, "")),
        "sits_in": c.pick((None, "loose", "another machine")),
        "replacement_price": 60,
    }


def _beside(c: Chooser) -> dict:
    """Return an empty drive that an array may use, or that is too weak for one."""
    pending = c.pick((0, 1))
    return {
        "id": "idle",
        "part": make(
            HardDrive, "idle", tb=c.pick((2, 8, 4, 8)), idle_w=c.pick((5, 12))
        ),
        "count": c.pick((1, 1, 2)),
        "holds_data": False,
        "pending_sectors": pending,
        "sits_in": c.pick((None, "another machine")),
        "replacement_price": 60,
    }


def held_cache(kit: Kit, c: Chooser) -> None:
    """An owned cache drive with data on it, beside a drive that is owned."""
    caches(kit, c)
    kit.lists["owned"].append(
        {
            "id": "old-ssd",
            "part": make(SolidStateDrive, "old-ssd", idle_w=0.5),
            "holds_data": c.pick((None, True)),
        }
    )


OTHERS: tuple[Theme, ...] = (
    mixed_sizes,
    layouts,
    owned_machine,
    small_drives,
    multipliers,
    shared_ports,
    held_cache,
)
"""Themes that change which drives are cheapest, and what places there are."""


def held_instance(seed: int, most: int) -> tuple[Instance, Outcome]:
    """Return the instance of a seed with its enumeration.

    Where nothing fits, needs are loosened, except in every fifth instance.
    """
    chooser = Seeded(seed)
    for _ in range(20):
        others = [chooser.pick(OTHERS)] if seed % 2 else []
        found = drawn(chooser, [*others, held_drives], most)
        if found is not None and found.n_builds:
            outcome = outcome_of(found.catalog, found.scenario)
            if not outcome.fit and seed % 5 != 4:
                wider = loosened(found.scenario, 0.3)
                found = Instance(found.catalog, wider, found.themes, found.n_builds)
                outcome = outcome_of(found.catalog, wider)
            return found, outcome
    msg = f"no instance of seed {seed} has at most {most} builds"
    raise ValueError(msg)

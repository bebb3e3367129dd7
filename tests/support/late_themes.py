"""Themes beside those that seeds are drawn by: leads in a ring, parts that are alike."""

from optibox.catalog.platform import Chassis, PowerLead, PowerSupply
from tests.support.enumerate import Outcome, outcome_of
from tests.support.parts import make
from tests.support.tiny import (
    Chooser,
    Instance,
    Kit,
    Seeded,
    Theme,
    drawn,
    owned_drives,
    shop,
    slow_slots,
    small_drives,
    supplies,
    tight_limits,
)


def hanging_leads(kit: Kit, c: Chooser) -> None:
    """Leads that could feed each other alone, and backplanes that all drives sit on."""
    leads = c.pick(("sata 4", "sata 2 | peripheral 1", "sata 1", "peripheral 1"))
    inlets = c.pick(("peripheral 1", "peripheral 2", "sata 1"))
    kit.change("supply", leads=make(PowerSupply, "x", leads=leads).leads)
    kit.change(
        "case",
        backplane_connector="sata",
        backplane_bays=c.pick((None, 2, 4)),
        backplane_power=make(Chassis, "x", backplane_power=inlets).backplane_power,
    )
    kit.add(
        PowerLead,
        "doubler",
        price=c.pick((2, 6)),
        takes_plug="peripheral",
        gives_plug="peripheral",
        fan_out=2,
    )
    crossing = c.pick(("none", "up", "both"))
    if crossing != "none":
        kit.add(PowerLead, "up", takes_plug="sata", gives_plug="peripheral", price=4)
    if crossing == "both":
        kit.add(
            PowerLead,
            "down",
            takes_plug="peripheral",
            is_moulded="no",
            fan_out=1,
            price=3,
        )
    if c.pick((True, False)):
        kit.add(PowerSupply, "richer", price=c.pick((70, 95)))


ALIKE = ("case", "board", "supply", "memory", "boot", "lead", "cable", "hdd-4")
"""Parts of the plain machine."""


def alike(kit: Kit, c: Chooser) -> None:
    """Twins of plain parts that differ in price and watts alone, one way or both ways."""
    for number in range(c.pick((2, 3))):
        part_id = c.pick(ALIKE)
        part = kit.parts[part_id]
        changes = {"price": round(part.price.mid * c.pick((0.8, 1.0, 1.2)), 2)}
        if getattr(part, "idle_w", None) is not None:
            changes["idle_w"] = round(part.idle_w.mid * c.pick((0.7, 1.0, 1.3)), 2)
        if c.pick((False, False, True)):
            changes["stock"] = 1
        twin = f"{part_id}-{number}"
        kit.parts[twin] = part.model_validate(
            part.model_dump() | changes | {"id": twin}
        )


OTHERS: tuple[Theme, ...] = (
    owned_drives,
    shop,
    slow_slots,
    small_drives,
    supplies,
    tight_limits,
)
"""Themes that go well with them."""


def late_instance(seed: int, theme: Theme, most: int) -> tuple[Instance, Outcome]:
    """Return the instance of a seed with a theme, and its enumeration."""
    chooser = Seeded(seed)
    for _ in range(20):
        others = [chooser.pick(OTHERS)] if seed % 2 else []
        found = drawn(chooser, [*others, theme], most)
        if found is not None and found.n_builds:
            return found, outcome_of(found.catalog, found.scenario)
    msg = f"no instance of seed {seed} has at most {most} builds"
    raise ValueError(msg)

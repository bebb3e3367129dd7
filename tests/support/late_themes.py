"""Themes beside those that seeds are drawn by: leads in a ring, deep ones, twins."""

from optibox.catalog.platform import Chassis, PowerLead, PowerSupply
from optibox.catalog.storage import HardDrive
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


def deep_leads(kit: Kit, c: Chooser) -> None:
    """Splitters behind splitters, drives of different starts, hosts that stagger.

    At most two pieces of each adapter are to be had, as many as every build has.
    """
    leads = c.pick(("sata 1", "sata 2", "sata 1 | peripheral 1", "peripheral 1"))
    kit.change(
        "supply",
        leads=make(PowerSupply, "x", leads=leads).leads,
        carries_3v3=c.pick((True, False)),
        lead_m=c.pick((0.6, 0.6, 1.5)),
    )
    taps = (
        ("pair", {"takes_plug": "sata", "fan_out": 2, "price": 4}),
        ("four", {"takes_plug": "sata", "fan_out": c.pick((3, 4)), "price": 5}),
        ("down", {"fan_out": c.pick((1, 2)), "price": 3}),
        ("clean", {"takes_plug": "sata", "carries_3v3": False, "price": 6}),
        ("weak", {"takes_plug": "sata", "fan_out": 2, "price": 1, "most_a": 2.5}),
    )
    for part_id, cells in taps:
        if c.pick((True, False)):
            values = {"carries_3v3": True, "stock": 2, **cells}
            kit.add(PowerLead, part_id, **values)
    kit.change("hdd-4", spin_up_12v_a=c.pick((2.0, 2.4, 3.0)))
    kit.add(HardDrive, "light", price=c.pick((103, 108)), spin_up_12v_a=1.0)
    if c.pick((True, False)):
        kit.add(HardDrive, "held", price=96, has_power_disable="yes")
    kit.change("board", has_staggered_spin_up=c.pick((False, False, True)))
    kit.say("choices", allow_never=False)
    kit.say("needs", usable_tb=c.pick((7, 7, 11)), failures_survived=c.pick((0, 1)))


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

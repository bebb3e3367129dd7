"""Tiny catalogs with scenarios, drawn at random, each family of constraints in turn.

An instance is the plain machine with two or three themes laid over it. The same
themes serve a seeded generator and hypothesis, which can shrink what fails.
"""

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Protocol, TypeVar

from hypothesis import strategies as st

from optibox.assess import Assessment
from optibox.catalog.attachment import (
    Cable,
    Controller,
    DisplayCard,
    NetworkCard,
    NetworkLead,
    Riser,
)
from optibox.catalog.catalog import Catalog
from optibox.catalog.platform import (
    Board,
    Chassis,
    Cooler,
    Memory,
    MountingPlate,
    PowerLead,
    PowerSupply,
    Processor,
)
from optibox.catalog.storage import BootMedium, DriveAdapter, HardDrive, SolidStateDrive
from optibox.scenario import Scenario
from optibox.scenario.records import Limits
from tests.support.enumerate import AIMS, Outcome, count_builds, outcome_of
from tests.support.parts import catalog_of, make, plain_parts

T = TypeVar("T")
ROUTINE, SLOW = 1_500, 20_000
"""Most builds of an instance."""


class Chooser(Protocol):
    """Who decides what an instance looks like."""

    def pick(self, options: Sequence[T]) -> T:
        """Return one of the options."""


class Seeded:
    """Decides by a seeded generator."""

    def __init__(self, seed: int) -> None:
        self.random = random.Random(seed)

    def pick(self, options: Sequence[T]) -> T:
        """Return one of the options."""
        return self.random.choice(options)


class Drawn:
    """Decides by hypothesis; the first option is what it shrinks to."""

    def __init__(self, draw: Callable) -> None:
        self.draw = draw

    def pick(self, options: Sequence[T]) -> T:
        """Return one of the options."""
        return self.draw(st.sampled_from(options))


@dataclass
class Kit:
    """An instance in the making."""

    parts: dict = field(default_factory=plain_parts)
    postage: dict[str, float] = field(default_factory=dict)
    asked: dict[str, dict] = field(
        default_factory=lambda: {
            "needs": {},
            "limits": {"array_drives": 3},
            "usage": {},
            "money": {"tariff_per_kwh": 0.3},
            "choices": {
                "layouts": ("independent",),
                "caches": ("none",),
                "timeouts_min": (30,),
            },
        }
    )
    lists: dict[str, list] = field(
        default_factory=lambda: {"owned": [], "ban": [], "insist": [], "spares": []}
    )

    def add(self, record, part_id: str, **changes) -> None:
        """Add a part, or put it in the place of one with the same id."""
        self.parts[part_id] = make(record, part_id, **changes)

    def change(self, part_id: str, **changes) -> None:
        """Change figures of a part that is there."""
        part = self.parts[part_id]
        values = {name: getattr(part, name) for name in type(part).model_fields}
        self.parts[part_id] = type(part).model_validate(values | changes)

    def say(self, section: str, **values) -> None:
        """Set keys of the scenario."""
        self.asked[section] |= values

    def allow(self, key: str, *values) -> None:
        """Add values to one of the scenario's choices."""
        old = self.asked["choices"][key]
        self.asked["choices"][key] = tuple(dict.fromkeys((*old, *values)))

    def slots(self, text: str) -> None:
        """Add slots to the board."""
        old = self.parts["board"].slots
        new = make(Board, "x", slots=text).slots
        known = {slot.name for slot in old}
        self.change(
            "board", slots=(*old, *(slot for slot in new if slot.name not in known))
        )


Theme = Callable[[Kit, Chooser], None]


def mixed_sizes(kit: Kit, c: Chooser) -> None:
    """Drives of several sizes: the largest is to be parity, stripes waste surplus."""
    kit.add(HardDrive, "hdd-8", tb=8, price=c.pick((180, 150)), idle_w=c.pick((5, 3.5)))
    if c.pick((True, False)):
        kit.add(HardDrive, "hdd-2", tb=2, price=c.pick((60, 45)), idle_w=3)
    kit.say("needs", failures_survived=c.pick((1, 0)), usable_tb=c.pick((7, 5, 10.5)))


def owned_drives(kit: Kit, c: Chooser) -> None:
    """Owned drives, empty: near the wear budget, with pending or hidden sectors."""
    kit.add(HardDrive, "old", tb=c.pick((4, 6)), price=95, idle_w=c.pick((6, 4)))
    kit.lists["owned"].append(
        {
            "id": "old",
            "count": c.pick((1, 2)),
            "starts": c.pick((0, 24_000, 0, 21_000, 25_500)),
            "pending_sectors": c.pick((0, 0, 0, 3)),
            "hidden_sectors": c.pick((0, 1_000_000)),
            "replacement_price": c.pick((80, 400)),
            "holds_data": False,
        }
    )
    if c.pick((True, False)):
        kit.change("old", stock=0)
    kit.say("needs", failures_survived=c.pick((1, 0)))


def owned_machine(kit: Kit, c: Chooser) -> None:
    """Owned parts beside the drives: thirsty, but free."""
    kit.add(Board, "old-board", price=90, idle_w=c.pick((14, 20, 40)), sata_ports=6)
    kit.add(
        PowerSupply,
        "old-supply",
        loss_fixed_w=c.pick((8, 5)),
        loss_share=0.2,
        rated_w=650,
        price=60,
    )
    for part_id in c.pick((("old-board", "old-supply"), ("old-supply",))):
        kit.lists["owned"].append({"id": part_id, "count": 1})
    if "old-board" not in [o["id"] for o in kit.lists["owned"]]:
        del kit.parts["old-board"]


def picky_drives(kit: Kit, c: Chooser) -> None:
    """Sector sizes, shingled and unknown recording."""
    kit.add(
        HardDrive,
        "cheap",
        tb=c.pick((4, 5)),
        price=c.pick((70, 85)),
        recording=c.pick(("shingled", "unknown", "conventional")),
        sector_logical_b=c.pick((512, 4096)),
    )
    kit.say("needs", failures_survived=c.pick((1, 0)), usable_tb=c.pick((3, 7)))


def shared_ports(kit: Kit, c: Chooser) -> None:
    """M.2 sockets that take ports or lanes away."""
    kit.change("board", sata_ports=c.pick((2, 3)))
    kit.slots("M1 m2 gen3 cpu nvme+sata | P1 x4 gen3 cpu")
    kit.change(
        "board",
        sharing=make(
            Board,
            "x",
            sharing=c.pick(
                (
                    "M1 sata -> ports -1",
                    "M1 -> P1 off",
                    "M1 nvme -> ports -2",
                    "P1 -> ports -1 | M1 -> P1 x1",
                )
            ),
        ).sharing,
    )
    kit.add(
        BootMedium,
        "boot",
        interface="m2",
        module_mode=c.pick(("sata", "nvme")),
        price=12,
    )
    if c.pick((True, False)):
        kit.add(BootMedium, "boot-sata", interface="sata", price=9, needs_bay=False)
    kit.add(Controller, "hba", price=c.pick((25, 35)))
    kit.say("needs", usable_tb=c.pick((7, 3, 10)))


def slow_slots(kit: Kit, c: Chooser) -> None:
    """Drives behind few lanes: which write mode is faster depends on the wiring."""
    kit.change("board", sata_ports=c.pick((1, 2)), network_gbit_s=10.0)
    kit.slots(c.pick(("P1 x1 gen1 cpu", "P1 x1 gen1 cpu | P2 x1 gen2 chipset")))
    kit.change("board", chipset_lanes=c.pick((0, 1)), chipset_generation=1)
    kit.change("board", sata_uplink=c.pick(("cpu", "chipset")))
    kit.add(
        Controller,
        "hba",
        connectors="4 sata",
        native_ports=4,
        lanes=c.pick((1, 2)),
        price=c.pick((30, 20)),
    )
    kit.say(
        "needs",
        failures_survived=1,
        usable_tb=c.pick((7, 3)),
        write_mb_s=c.pick((60, 95, 0, 75)),
    )


def multi_lane(kit: Kit, c: Chooser) -> None:
    """A backplane with multi-lane connectors, and cables of every direction."""
    back = c.pick(("sff-8087", "sff-8643"))
    card = c.pick(("sff-8087", "sff-8643"))
    kit.change(
        "case",
        bays_35=c.pick((4, 8, 6)),
        backplane_connector=back,
        backplane_bays=c.pick((4, None)),
    )
    feeds = c.pick(("peripheral 1", "sata 1", "peripheral 2"))
    kit.change(
        "case",
        backplane_power=make(Chassis, "x", backplane_power=feeds).backplane_power,
    )
    leads = "sata 4 | peripheral 3"
    kit.change("supply", leads=make(PowerSupply, "x", leads=leads).leads)
    kit.slots("P1 x8 gen3 cpu")
    kit.add(
        Controller,
        "hba",
        connectors=f"{c.pick((1, 2))} {card}",
        native_ports=8,
        lanes=8,
        price=c.pick((60, 20)),
        idle_w=c.pick((7, 4)),
    )
    ends = {
        "reverse": ("sata", back),
        "straight": (card, back),
        "forward": (card, "sata"),
    }
    for name, (host, drive) in ends.items():
        if c.pick((True, True, False)):
            kit.add(
                Cable,
                name,
                direction=name,
                controller_end=host,
                drive_end=drive,
                price=c.pick((12, 16)),
            )
    kit.say("needs", usable_tb=c.pick((3, 7)))


def multipliers(kit: Kit, c: Chooser) -> None:
    """A cheap card whose ports share a link, beside an honest one."""
    kit.change("board", sata_ports=c.pick((0, 1)))
    kit.slots("P1 x1 gen2 cpu | P2 x1 gen2 cpu")
    kit.add(
        Controller,
        "shared",
        connectors="4 sata",
        native_ports=c.pick((2, 1)),
        topology=c.pick(("multiplier", "native")),
        switching=c.pick(("fis", "command")),
        price=12,
    )
    if c.pick((True, False)):
        kit.add(Controller, "honest", price=c.pick((30, 45)))
    kit.say("choices", allow_multipliers=c.pick((True, False)))
    kit.say(
        "needs",
        usable_tb=c.pick((7, 10)),
        read_mb_s=c.pick((0, 90)),
        failures_survived=c.pick((0, 1)),
    )


def forward(kit: Kit, c: Chooser) -> None:
    """Plain bays behind a card with multi-lane connectors, or with many plain ones."""
    kit.change("board", sata_ports=c.pick((1, 0)))
    kit.slots("P1 x8@4 gen2 cpu | P2 x4 gen3 chipset open")
    kit.add(
        Controller,
        "hba-8",
        connectors=c.pick(("2 sff-8087", "1 sff-8087", "8 sata")),
        native_ports=8,
        lanes=8,
        generation=2,
        price=c.pick((35, 50)),
        idle_w=c.pick((4, 7)),
        speaks_sas=True,
        has_32_bit_addresses=c.pick((False, False, True)),
        passes_standby=c.pick(("yes", "unknown", "no")),
        pass_through=c.pick(("after new firmware", "yes", "unknown", "no")),
    )
    kit.add(
        Cable,
        "forward-4",
        direction="forward",
        controller_end="sff-8087",
        drive_end="sata",
        price=9,
    )
    if c.pick((True, False)):
        kit.add(HardDrive, "sas", interface="sas", price=70, idle_w=5.5, active_w=7)
    if c.pick((True, False)):
        kit.add(HardDrive, "hdd-2", tb=2, price=50, idle_w=3)


def blockers(kit: Kit, c: Chooser) -> None:
    """Cards that keep the processor awake: both are exchanged or neither."""
    kit.change("board", sata_ports=1, deep_idle_loss_w=c.pick((6, 3)))
    kit.slots("P1 x4 gen3 cpu | P2 x4 gen3 cpu")
    kit.add(NetworkCard, "net-old", blocks_deep_idle="yes", price=30)
    kit.add(NetworkCard, "net-new", price=c.pick((37, 45)))
    kit.add(
        Controller, "hba-old", blocks_deep_idle=c.pick(("yes", "unknown")), price=20
    )
    kit.add(Controller, "hba-new", price=c.pick((27, 33)))
    kit.say("needs", network_gbit_s=10, usable_tb=c.pick((7, 5)))


def supplies(kit: Kit, c: Chooser) -> None:
    """Supplies with other losses, rails and forms."""
    kit.add(
        PowerSupply,
        "small",
        rated_w=c.pick((90, 60)),
        loss_fixed_w=2,
        loss_share=0.08,
        rail_12v_a=c.pick((6, 9, 12)),
        rail_5v_a=c.pick((2.5, 6)),
        price=c.pick((55, 70)),
        form=c.pick(("atx", "sfx")),
    )
    kit.add(
        PowerSupply,
        "large",
        rated_w=650,
        loss_fixed_w=8,
        loss_share=0.06,
        loss_square=0.01,
        rail_12v_a=50,
        price=35,
    )
    if c.pick((True, False)):
        kit.add(MountingPlate, "plate")
        kit.change("supply", price=90)
    kit.change("board", has_staggered_spin_up=c.pick((False, True)))
    kit.say("choices", sequential_wake_verified=c.pick((False, True)))
    kit.say("needs", usable_tb=c.pick((7, 3)), failures_survived=c.pick((1, 0)))


def plugs(kit: Kit, c: Chooser) -> None:
    """Few power plugs: splitters, adapters, or a supply with more leads."""
    leads = c.pick(("sata 1 | peripheral 2", "sata 2", "peripheral 2", "sata 1"))
    kit.change("supply", leads=make(PowerSupply, "x", leads=leads).leads, price=30)
    kit.add(PowerSupply, "richer", price=c.pick((36, 50)))
    if c.pick((True, False)):
        kit.add(PowerLead, "adapter", is_moulded=c.pick(("no", "unknown", "yes")))
    if c.pick((True, False)):
        kit.add(
            PowerLead,
            "splitter",
            takes_plug="sata",
            fan_out=c.pick((2, 3)),
            carries_3v3=True,
        )
    kit.say("needs", usable_tb=c.pick((7, 3, 10)))


def power_disable(kit: Kit, c: Chooser) -> None:
    """Drives that 3.3 V holds in reset, cheaper than others."""
    kit.add(
        HardDrive,
        "pd",
        price=c.pick((80, 90)),
        has_power_disable=c.pick(("yes", "unknown")),
    )
    if c.pick((True, False)):
        kit.change(
            "case",
            backplane_connector="sata",
            backplane_bays=c.pick((2, None)),
            backplane_power=make(
                Chassis, "x", backplane_power=c.pick(("peripheral 1", "sata 1"))
            ).backplane_power,
        )
    leads = "sata 4 | peripheral 2"
    kit.change(
        "supply",
        leads=make(PowerSupply, "x", leads=leads).leads,
        carries_3v3=c.pick((True, False)),
    )
    kit.add(PowerLead, "adapter")
    kit.say("needs", usable_tb=c.pick((7, 3)))


def caches(kit: Kit, c: Chooser) -> None:
    """Solid-state caches with and without a fast region, overflowing or not."""
    kit.add(
        SolidStateDrive,
        "ssd",
        tb=c.pick((0.25, 0.06)),
        fast_gb=c.pick((0, 10)),
        fast_write_mb_s=480,
        write_mb_s=c.pick((400, 150)),
        tbw=c.pick((100, 20)),
    )
    if c.pick((True, False)):
        kit.add(
            SolidStateDrive,
            "ssd-large",
            tb=0.5,
            price=65,
            has_power_loss_protection=True,
        )
    kit.change("board", network_gbit_s=c.pick((10.0, 2.5)))
    kit.change("case", bays_25=c.pick((2, 0)))
    if c.pick((True, False)):
        kit.add(DriveAdapter, "frame", fits_tray=True)
    kit.allow("caches", *c.pick((("mirror",), ("single", "mirror"), ("single",))))
    if c.pick((True, False)):
        kit.say("choices", caches=c.pick((("mirror",), ("single",))))
    kit.say(
        "needs",
        failures_survived=c.pick((1, 0)),
        cache_mirror=c.pick((None, False)),
        ingest_mb_s=c.pick((200, 0, 120, 350)),
        burst_gb=c.pick((None, 80, 300)),
    )


def networks(kit: Kit, c: Chooser) -> None:
    """Network ports of 1, 2.5 and 10 Gb/s, on the board and on cards."""
    kit.change("board", network_gbit_s=c.pick((1.0, 2.5, None)))
    kit.slots("P1 x4 gen3 cpu")
    kit.add(NetworkCard, "net-2", network_gbit_s=2.5, lanes=1, price=20, idle_w=1)
    kit.add(NetworkCard, "net-10", medium=c.pick(("sfp+", "twisted pair")), price=45)
    if c.pick((True, False)):
        kit.add(
            NetworkLead,
            "dac",
            medium="sfp+",
            type="direct attach",
            price=12,
            idle_w=c.pick((0, 0.5)),
        )
    kit.say(
        "needs",
        read_mb_s=c.pick((0, 130, 110)),
        other_end_medium=c.pick(("twisted pair", "sfp+")),
        other_end_gbit_s=c.pick((10, 2.5)),
        network_gbit_s=c.pick((None, 2.5)),
    )


def shop(kit: Kit, c: Chooser) -> None:
    """Packs, stock, postage, what is in the box, spares."""
    kit.change("hdd-4", stock=c.pick((1, 2)), seller="a")
    kit.add(HardDrive, "hdd-4b", price=c.pick((103, 110)), seller=c.pick(("b", "a")))
    kit.add(
        Cable,
        "cable",
        pack=c.pick((1, 2, 3)),
        price=c.pick((3, 5)),
        seller=c.pick(("", "b")),
    )
    if c.pick((True, False)):
        kit.add(Cable, "cable-single", price=c.pick((2, 4)), stock=1, seller="a")
    kit.change("board", comes_with=c.pick(("cable x2", "", "cable")))
    kit.postage = {"a": c.pick((6, 0)), "b": c.pick((4, 9))}
    if c.pick((True, False)):
        kit.lists["spares"].append({"id": c.pick(("cable", "hdd-4b")), "count": 1})
    kit.say("needs", usable_tb=c.pick((7, 3, 10)))


def tight_limits(kit: Kit, c: Chooser) -> None:
    """Limits near what the plain machine takes."""
    kit.add(Board, "thrifty", idle_w=5, active_w=9, price=c.pick((130, 160)))
    kit.add(HardDrive, "cool", idle_w=2.5, active_w=3, standby_w=0.2, price=125)
    for key, options in {
        "asleep_w": (None, 15.5, 13),
        "spinning_w": (None, 22, 18),
        "peak_w": (None, 75, 55),
        "budget": (None, 480, 430),
        "annual_kwh": (None, 140, 120),
        "total_cost": (None, 700, 640),
    }.items():
        kit.say("limits", **{key: c.pick(options)})
    kit.say("needs", usable_tb=c.pick((3, 7)))


def tariffs(kit: Kit, c: Chooser) -> None:
    """Bands, sessions and timeouts: wear and energy pull apart."""
    kit.say(
        "money",
        bands=(
            {
                "days": c.pick(("all", "weekdays")),
                "from_hour": 22,
                "to_hour": 6,
                "price_per_kwh": 0.1,
            },
        ),
        years=c.pick((5, 8)),
        discount=c.pick((0, 0.03)),
        tariff_growth=c.pick((0, 0.05)),
        terms=c.pick(
            (
                ("purchase", "energy", "wear", "cache wear"),
                ("purchase", "energy", "wear", "cache wear", "replacements", "resale"),
            )
        ),
        resale_fraction=c.pick((0, 0.2)),
    )
    kit.say(
        "usage",
        sessions_per_day=c.pick((2, 12, 0.2)),
        minutes_between=c.pick((8, 20)),
        metadata_sessions_per_day=c.pick((0, 1)),
        ingest_gb_per_day=c.pick((20, 200)),
        checks_per_year=c.pick((4, 12)),
        spinning_fraction=c.pick((None, None, 0.2)),
    )
    kit.say("choices", timeouts_min=c.pick(((10, 60), (5, 180), (15,))))
    kit.change("hdd-4", start_stop_rating=c.pick((50_000, 10_000)))
    kit.add(HardDrive, "robust", price=110, start_stop_rating=300_000, idle_w=4.5)


def layouts(kit: Kit, c: Chooser) -> None:
    """All seven layouts beside each other."""
    kit.say(
        "choices",
        layouts=c.pick(
            (
                ("independent", "striped", "pairs", "striped pairs"),
                ("pairs",),
                ("striped pairs",),
                ("striped", "pairs"),
            )
        ),
    )
    kit.say("limits", array_drives=4)
    kit.say(
        "needs",
        failures_survived=c.pick((1, 2, 0)),
        usable_tb=c.pick((3, 7)),
        read_mb_s=c.pick((0, 200, 150)),
        write_mb_s=c.pick((0, 150, 110)),
    )
    kit.change("board", network_gbit_s=c.pick((10.0, 2.5)))


def sockets(kit: Kit, c: Chooser) -> None:
    """Processors, coolers, memory and what shows the firmware."""
    kit.add(
        Board,
        "socketed",
        socket="s1",
        price=60,
        idle_w=6,
        memory_slots=2,
        has_graphics=False,
        has_ecc=True,
        processor_tdp_max_w=c.pick((None, 50)),
        slots="P1 x16 gen3 cpu",
        sata_ports=6,
    )
    kit.add(
        Processor, "weak", price=25, has_graphics=c.pick((True, False)), has_ecc=True
    )
    kit.add(Processor, "strong", price=45, tdp_w=65, idle_w=c.pick((1, 3)))
    kit.add(Cooler, "low", height_mm=30, tdp_w=45)
    kit.add(Cooler, "tall", height_mm=120, tdp_w=120, price=8)
    kit.change("case", cooler_clearance_mm=c.pick((100.0, 150.0)))
    kit.add(Memory, "memory-ecc", has_ecc=True, price=28)
    if c.pick((True, False)):
        kit.add(DisplayCard, "display")
    kit.say("needs", ecc=c.pick((False, True)), memory_gib=c.pick((8, 16)))
    kit.say("limits", array_drives=2)


def risers(kit: Kit, c: Chooser) -> None:
    """M.2 modules on risers, split lanes or a switch chip."""
    kit.slots(c.pick(("P1 x8 gen3 cpu bifurcates", "P1 x8 gen3 cpu", "P1 x4 gen3 cpu")))
    kit.add(Riser, "riser-2", n_sockets=2, lanes=c.pick((4, 8)))
    kit.add(Riser, "switched", n_sockets=2, has_switch=True, idle_w=4, price=30)
    kit.add(
        SolidStateDrive,
        "nvme",
        interface="nvme",
        form="m2",
        module_length_mm=c.pick((80, 110)),
        module_key="M",
        generation=3,
        lanes=4,
        run_5v_a=0,
        read_mb_s=2000,
        write_mb_s=700,
    )
    kit.allow("caches", c.pick(("mirror", "single")))
    if c.pick((True, False)):
        kit.say("choices", caches=("mirror",))
    kit.change("board", network_gbit_s=10.0)
    kit.say(
        "needs", ingest_mb_s=c.pick((300, 0, 500)), cache_mirror=c.pick((False, True))
    )
    kit.say("limits", array_drives=2)


def small_drives(kit: Kit, c: Chooser) -> None:
    """2.5 inch drives: small bays, or large ones with frames."""
    kit.add(
        HardDrive,
        "small-4",
        form="2.5",
        height_mm=c.pick((15, 9.5)),
        price=c.pick((90, 105)),
        idle_w=1.5,
        active_w=2.2,
        standby_w=0.2,
        outer_rate_mb_s=130,
        spin_up_12v_a=0,
        run_12v_a=0,
        side_holes="unknown",
    )
    kit.change(
        "case",
        bays_35=c.pick((2, 1, 3)),
        bays_25=c.pick((1, 2, 0)),
        bay_25_height_mm=c.pick((9.5, 15.0)),
        tray_holes=c.pick(("all", "middle side only", "none")),
        backplane_connector=c.pick(("none", "sata")),
    )
    kit.change("hdd-4", side_holes=c.pick(("all", "no middle side")))
    if c.pick((True, True, False)):
        kit.add(DriveAdapter, "frame", fits_tray=c.pick((True, False)))
    kit.say("needs", usable_tb=c.pick((7, 3)))


def insisted(kit: Kit, c: Chooser) -> None:
    """Parts insisted on or ruled out."""
    kit.add(Board, "other", price=90, sata_ports=c.pick((2, 4)), idle_w=10)
    kit.add(Chassis, "rack", shape="rack", rack_units=2, bracket="low", price=70)
    kit.lists["insist"].append(c.pick(("other", "rack", "hdd-4")))
    kit.say("limits", shape=c.pick((None, "rack")), rack_units=c.pick((None, 2)))
    if c.pick((True, False)):
        kit.lists["ban"].append(c.pick(("cas*", "class:none", "boar?")))


THEMES: tuple[Theme, ...] = (
    mixed_sizes,
    owned_drives,
    owned_machine,
    picky_drives,
    shared_ports,
    slow_slots,
    multi_lane,
    multipliers,
    forward,
    blockers,
    supplies,
    plugs,
    power_disable,
    caches,
    networks,
    shop,
    tight_limits,
    tariffs,
    layouts,
    sockets,
    risers,
    small_drives,
    insisted,
)


@dataclass(frozen=True)
class Instance:
    """A tiny question to the planner."""

    catalog: Catalog
    scenario: Scenario
    themes: tuple[str, ...]
    n_builds: int


def _basic(kit: Kit, c: Chooser) -> None:
    kit.say("needs", usable_tb=c.pick((3, 7)))
    kit.say("choices", allow_never=c.pick((True, False)))
    kit.say("usage", ingest_gb_per_day=c.pick((20, 60)))


def drawn(c: Chooser, themes: Sequence[Theme], most: int) -> Instance | None:
    """Return an instance with these themes, or nothing where it is too large."""
    kit = Kit()
    _basic(kit, c)
    for theme in themes:
        theme(kit, c)
    catalog = catalog_of(kit.parts.values(), kit.postage)
    for most_drives in range(kit.asked["limits"]["array_drives"], 1, -1):
        kit.say("limits", array_drives=most_drives)
        lists = {key: tuple(values) for key, values in kit.lists.items() if values}
        scenario = Scenario.model_validate({**kit.asked, **lists})
        n_builds = count_builds(catalog, scenario, most)
        if n_builds <= most:
            names = tuple(theme.__name__ for theme in themes)
            return Instance(catalog, scenario, names, n_builds)
    return None


def seeded(seed: int, most: int = ROUTINE) -> tuple[Instance, Outcome]:
    """Return the instance of a seed with its enumeration.

    One theme comes by turns, the others at random. Where nothing fits, needs and limits
    are loosened, except in every fifth instance: that nothing fits is an answer too.
    """
    chooser = Seeded(seed)
    first = THEMES[seed % len(THEMES)]
    others = [theme for theme in THEMES if theme is not first]
    for _ in range(20):
        themes = [first, *chooser.random.sample(others, chooser.pick((1, 1, 2)))]
        found = drawn(chooser, themes, most)
        if found is not None and found.n_builds:
            return _with_answer(found, keep=seed % 5 == 4)
    msg = f"no instance of seed {seed} has at most {most} builds"
    raise ValueError(msg)


def _with_answer(instance: Instance, *, keep: bool) -> tuple[Instance, Outcome]:
    outcome = outcome_of(instance.catalog, instance.scenario)
    for step in (0.6, 0.3, 0.0):
        if outcome.fit or keep:
            break
        instance = replace(instance, scenario=loosened(instance.scenario, step))
        outcome = outcome_of(instance.catalog, instance.scenario)
    return instance, outcome


def loosened(scenario: Scenario, share: float) -> Scenario:
    """Return a scenario with a share of its needed rates, and in the end with few needs."""
    needs, limits = scenario.needs, scenario.limits
    changes = {
        key: round(getattr(needs, key) * share)
        for key in ("read_mb_s", "write_mb_s", "ingest_mb_s")
    }
    if share < 0.6:
        changes |= {"usable_tb": 3.0, "network_gbit_s": None}
        limits = Limits(array_drives=limits.array_drives)
    if share == 0:
        changes |= {"failures_survived": 0, "ecc": False, "memory_gib": 8.0}
    return scenario.model_copy(
        update={"needs": needs.model_copy(update=changes), "limits": limits}
    )


@st.composite
def instances(draw, most: int = ROUTINE) -> Instance:
    """Draw instances of one to three themes."""
    themes = draw(
        st.lists(st.sampled_from(THEMES), min_size=1, max_size=3, unique=True)
    )
    found = drawn(Drawn(draw), themes, most)
    if found is None or not found.n_builds:
        return draw(st.nothing())
    return found


def families(instance: Instance, outcome: Outcome) -> set[str]:
    """Return what an instance exercises: rules that bind, and features in the answer."""
    found = {f"rule {rule}" for rule in outcome.binding()}
    if not outcome.fit:
        return found | {"nothing fits"}
    for aim in AIMS:
        found |= _features(outcome.best(aim)[1])
    if instance.catalog.postage:
        found.add("postage")
    return found


def _features(best: Assessment) -> set[str]:
    build, machine = best.build, best.machine
    plan = build.operation
    features = {
        f"layout {plan.layout} {plan.n_parity}": True,
        f"write mode {plan.write_mode}": True,
        f"cache {plan.cache}": True,
        "never asleep": plan.timeout_min is None,
        "owned drive": any(d.item.is_owned for d in machine.array),
        "mixed drives": len({d.item.key for d in machine.array}) > 1,
        "adapter": any(wire.adapter_key for wire in build.connections),
        "power lead": bool(build.of(PowerLead)),
        "mounting plate": bool(build.of(MountingPlate)),
        "multiplied drive": any(d.is_multiplied for d in machine.drives),
    }
    features |= {f"card {card.item.part.kind}": True for card in machine.cards.values()}
    for wire in build.connections:
        features[f"cable {build.item(wire.cable_key).part.direction}"] = True
    return {name for name, there in features.items() if there}

"""The exhaustive enumerator itself: numbers of builds and optima found on paper.

All parts are invented with round figures; the sums beside each check are done by hand.
"""

import math

import pytest

from optibox.catalog.attachment import Cable, Controller
from optibox.catalog.platform import Board, Chassis, Memory, PowerLead
from optibox.catalog.storage import BootMedium, DriveAdapter, HardDrive, SolidStateDrive
from optibox.scenario import Scenario
from tests.support.enumerate import AIMS, all_builds, best, count_builds, outcome_of
from tests.support.parts import catalog_of, make, plain_parts

QUIET = {
    "ingest_gb_per_day": 0,
    "sessions_per_day": 0,
    "checks_per_year": 0,
}


def scenario(**sections) -> Scenario:
    """Return a small scenario with sections laid over it."""
    values = {
        "needs": {"usable_tb": 3, "failures_survived": 0},
        "limits": {"array_drives": 1},
        "usage": QUIET,
        "money": {"tariff_per_kwh": 0.3},
        "choices": {
            "layouts": ("independent",),
            "caches": ("none",),
            "timeouts_min": (30,),
        },
    }
    for name, section in sections.items():
        values[name] = (
            values.get(name, {}) | section if isinstance(section, dict) else section
        )
    return Scenario.model_validate(values)


def catalog(*more, without=(), **changes):
    """Return the plain parts with some exchanged and some added."""
    parts = plain_parts()
    for part_id in without:
        del parts[part_id]
    for part in more:
        parts[part.id] = part
    return catalog_of(parts.values(), **changes)


def number(parts, asked: Scenario) -> int:
    return sum(1 for _ in all_builds(parts, asked))


def test_operations_are_counted():
    """No parity: one or two drives; one parity drive: one data drive in two modes.

    Each with a timeout of 30 min and with "never": (2 + 1 * 2) * 2 = 8.
    """
    asked = scenario(limits={"array_drives": 2})
    assert number(catalog(), asked) == 8
    assert count_builds(catalog(), asked, 100) == 8


def test_all_seven_layouts_are_there():
    """Four drives at most, one timeout.

    Independent: no parity 1-4 drives; one parity drive 1-3 data drives in two modes;
    two parity drives 1-2 data drives in two modes: 4 + 6 + 4. Striped with one and two,
    pairs, striped pairs, each with 1-4 drives (the evaluator sorts out wrong numbers):
    16. Together 30.
    """
    asked = scenario(
        limits={"array_drives": 4},
        choices={
            "layouts": ("independent", "striped", "pairs", "striped pairs"),
            "allow_never": False,
        },
    )
    assert number(catalog(), asked) == 30
    found = outcome_of(catalog(), asked).fit
    plans = {(a.build.operation.layout, a.build.operation.n_parity) for a in found}
    assert len(plans) == 7


def test_owned_drives_run_out():
    """Two owned drives and one kind to buy, up to two data drives and no parity.

    With one of two: 2; two of two kinds: both bought, both owned, one of each: 3.
    """
    asked = scenario(
        limits={"array_drives": 2},
        owned=({"id": "hdd-4", "count": 2},),
        choices={"write_modes": ("plain",), "allow_never": False},
    )
    assert number(catalog(), asked) == 5
    asked = asked.model_copy(
        update={"owned": (asked.owned[0].model_copy(update={"count": 1}),)}
    )
    assert number(catalog(), asked) == 4


def test_cards_in_slots_are_counted():
    """One drive, two equal slots, a controller with two ports.

    No card: 1. One card: two slots, the drive on the board or on the card: 4. Two
    cards: one assignment (they are equal), three hosts: 3. Together 8.
    """
    parts = catalog(
        make(Board, "board", slots="P1 x1 gen3 cpu | P2 x1 gen3 cpu"),
        make(Controller, "hba"),
    )
    assert number(parts, scenario(choices={"allow_never": False})) == 8


def test_native_and_multiplied_ports_differ():
    """Four connectors on a chip with two ports: one native, three behind the other.

    One drive: on the board, on the native port, on a shared one: 3, and without the
    card: 1. All cards sit in the only slot.
    """
    parts = catalog(
        make(Board, "board", slots="P1 x1 gen3 cpu"),
        make(Controller, "hba", connectors="4 sata", native_ports=2),
    )
    assert number(parts, scenario(choices={"allow_never": False})) == 4


def test_backplane_connectors_are_equal():
    """Eight bays behind two multi-lane connectors, two equal data drives.

    Both behind one connector, or one behind each: 2; one drive: 1. Together 3.
    """
    parts = catalog(
        make(
            Chassis,
            "case",
            bays_35=8,
            backplane_connector="sff-8087",
            backplane_power="sata 2",
        ),
        make(
            Cable,
            "reverse",
            direction="reverse",
            controller_end="sata",
            drive_end="sff-8087",
            price=12,
        ),
    )
    asked = scenario(
        limits={"array_drives": 2},
        choices={"write_modes": ("plain",), "allow_never": False},
    )
    assert number(parts, asked) == 3
    # case 50, board 100, supply 40, memory 20, boot 10, lead 5, drive 100, cable 12
    value, found = best(parts, asked, "purchase")
    assert value == 337
    (wire,) = found.build.connections
    assert (wire.bay, wire.host, wire.cable_key) == ("3.5-1", "board", "reverse")


def test_small_drives_take_either_bay():
    """A 2.5 inch drive: a small bay, or a large one with either of two adapters: 3."""
    parts = catalog(
        make(Chassis, "case", bays_35=1, bays_25=1),
        make(HardDrive, "hdd-4", form="2.5", height_mm=15),
        make(DriveAdapter, "frame"),
        make(DriveAdapter, "tray-frame", fits_tray=True),
    )
    asked = scenario(choices={"allow_never": False})
    assert number(parts, asked) == 3
    # the small bay takes 9.5 mm only: 50 + 100 + 40 + 20 + 10 + 5 + 3 + 100 + 4
    assert best(parts, asked, "purchase")[0] == 332


def test_modules_take_sockets():
    """A boot module and one cache module in two sockets: 2 ways; without cache 2."""
    parts = catalog(
        make(
            Board,
            "board",
            slots="M1 m2 gen3 cpu nvme+sata | M2 m2 gen3 cpu nvme+sata",
        ),
        make(BootMedium, "boot", interface="m2", module_mode="sata"),
        make(
            SolidStateDrive,
            "module",
            interface="nvme",
            form="m2",
            generation=3,
            lanes=4,
        ),
    )
    asked = scenario(choices={"caches": ("none", "single"), "allow_never": False})
    assert number(parts, asked) == 4


def test_memory_and_leads_are_counted():
    """Two sockets, two modules: one (2) or two (3) of them; 0-2 splitters: 15."""
    parts = catalog(
        make(Board, "board", memory_slots=2),
        make(Memory, "memory-16", gib=16),
        make(PowerLead, "splitter"),
    )
    assert number(parts, scenario(choices={"allow_never": False})) == 15


def test_optimum_on_paper():
    """One drive, no use at all.

    Purchase 50 + 100 + 40 + 20 + 10 + 5 + 3 + 100 = 328.
    Asleep 2 + 8 + 1 + 0.2 + 0.5 = 11.7 W DC; at the wall
    11.7 + 3 + 0.1 * 11.7 + 0.02 * 11.7^2 / 300 = 15.879126 W, all year:
    8.76 * 15.879126 = 139.10114 kWh; five years at 0.3: 208.65172.
    Never asleep it is 15.2 W DC, 19.735403 W at the wall: dearer.
    """
    asked = scenario()
    found = {aim: best(catalog(), asked, aim) for aim in AIMS}
    assert found["purchase"][0] == 328
    assert found["asleep watts"][0] == pytest.approx(15.879126, abs=1e-6)
    assert found["annual energy"][0] == pytest.approx(139.10114, abs=1e-5)
    assert found["total cost"][0] == pytest.approx(328 + 208.65172, abs=1e-5)
    assert found["total cost"][1].build.operation.timeout_min == 30
    never = scenario(choices={"timeouts_min": ()})
    assert best(catalog(), never, "annual energy")[0] == pytest.approx(
        8.76 * 19.735403, abs=1e-4
    )


def test_rates_on_paper():
    """10 Gb/s on the board: the half-full drive rules.

    180 * sqrt(1 - 0.5 * (1 - 0.5^2)) = 142.302; a second kind of drive, 240 MB/s, gives
    189.737, with a parity drive 0.72 of it in reconstruct mode: 136.611.
    """
    parts = catalog(
        make(Board, "board", network_gbit_s=10),
        make(HardDrive, "hdd-fast", outer_rate_mb_s=240, price=150),
    )
    single = scenario(ban=("hdd-fast",))
    assert best(parts, single, "read")[0] == pytest.approx(142.302, abs=1e-3)
    assert best(parts, scenario(), "ingest")[0] == pytest.approx(189.737, abs=1e-3)
    mirrored = scenario(needs={"failures_survived": 1}, limits={"array_drives": 2})
    value, found = best(parts, mirrored, "ingest")
    assert value == pytest.approx(136.611, abs=1e-3)
    assert found.build.operation.write_mode == "reconstruct"


def test_cheapest_mixture_on_paper():
    """11 TB needed; drives of 4 TB for 100 and 8 TB for 180, one parity drive.

    Usable is 0.98 * 0.95 = 0.931 of the data drives: 11 / 0.931 = 11.8 TB. Two of 8 TB
    and parity of 8 TB: 540. One of 8, one of 4 and parity of 8 TB: 460. Three of 4 and
    parity of 4 TB: 400. With 3.5 inch bays for three: 460, else 400. Beside the drives
    225 and three cables of 3, or four.
    """
    asked = scenario(
        needs={"usable_tb": 11, "failures_survived": 1}, limits={"array_drives": 4}
    )
    large = make(HardDrive, "hdd-8", tb=8, price=180)
    assert best(catalog(large), asked, "purchase")[0] == 225 + 400 + 12
    narrow = catalog(large, make(Chassis, "case", bays_35=3))
    assert best(narrow, asked, "purchase")[0] == 225 + 460 + 9


def test_nothing_is_found_where_nothing_fits():
    """6 TB do not fit on one drive of 4 TB."""
    asked = scenario(needs={"usable_tb": 6})
    assert best(catalog(), asked, "purchase") is None
    found = outcome_of(catalog(), asked)
    assert found.n_builds == 2
    assert found.binding() == {"A11"}


def test_skipping_changes_nothing():
    """What is passed over repeats what one rule has refused already."""
    parts = catalog(
        make(Board, "board", slots="P1 x1 gen2 cpu", sata_ports=2),
        make(HardDrive, "hdd-8", tb=8, price=180),
        make(HardDrive, "shingled", tb=6, price=90, recording="shingled"),
        make(Controller, "hba", connectors="4 sata", native_ports=2),
        make(SolidStateDrive, "ssd"),
    )
    asked = scenario(
        needs={"failures_survived": 1, "usable_tb": 7},
        limits={"array_drives": 3},
        usage={"ingest_gb_per_day": 20, "sessions_per_day": 2},
        choices={"layouts": ("independent", "pairs"), "caches": ("none", "mirror")},
    )
    quick, whole = (outcome_of(parts, asked, skips=s) for s in (True, False))
    assert quick.n_builds == whole.n_builds == whole.n_assessed > quick.n_assessed
    assert len(quick.fit) == len(whole.fit) > 0
    for aim in AIMS:
        assert math.isclose(quick.best(aim)[0], whole.best(aim)[0], rel_tol=1e-12)

"""Figures of a machine of round parts, each worked out on paper beside its check.

The machine is the clean one of the rules' tests: three drives of 4 TB, 180 MB/s outside
and half of that inside, on a board that sits at the processor. At half fill a drive moves
180 * sqrt(1 - 0.5 * (1 - 0.25)) = 142.3 MB/s. Factors are the documented defaults unless
a test sets them.
"""

import math

import numpy as np
import pytest

from optibox.catalog.attachment import Controller, DisplayCard, NetworkCard
from optibox.catalog.platform import Cooler, Processor
from optibox.catalog.storage import SolidStateDrive
from optibox.figures.power import (
    base_12v_a,
    peak_dc_w,
    rail_12v_a,
    starts_in_turn,
    wake_group,
)
from optibox.figures.year import day_use
from tests.unit.rules.bench import DRIVES, Bench
from tests.unit.rules.cases import NVME, SATA_SSD, X4_SLOT, on

DRIVE = 180 * math.sqrt(1 - 0.5 * 0.75)
FAST = {"board": {"network_gbit_s": 10}}
TEN = {"other_end_gbit_s": 10}
SLOW_CHIPSET = {"chipset_generation": 1, "chipset_lanes": 1}
"""250 MB/s (PCI-SIG base specification, generation 1), of which half is planned below."""
HALF = {"overrides": {"pcie": 0.5}}
PLAIN = Bench().judged()


def drives(n, *others):
    data = ((f"data-{i}", ("hdd-a", "hdd-b")[i % 2], "data") for i in range(1, n + 1))
    return (*data, *others, DRIVES[3])


def operation(layout, n_parity=0, mode="plain"):
    return {"layout": layout, "n_parity": n_parity, "write_mode": mode}


def stages(found, name, fill=0.5):
    """Return the stages of an operation by their words."""
    chain = next(c for c in found.chains(fill) if c.operation == name)
    return {stage.name: stage.rate_mb_s for stage in chain.stages}


# --- rates of layouts ----------------------------------------------------------------
@pytest.mark.parametrize(
    ("n", "plan", "read", "write"),
    [
        (2, operation("independent"), DRIVE, DRIVE),
        (3, operation("striped", 1), 2 * 0.9 * DRIVE, 2 * 0.9 * DRIVE),
        (4, operation("striped", 2), 2 * 0.9 * DRIVE, 2 * 0.9 * DRIVE),
        (4, operation("pairs"), DRIVE, DRIVE),
        (4, operation("striped pairs"), 2 * 0.9 * DRIVE, 2 * 0.9 * DRIVE),
    ],
)
def test_rates_of_layouts(n, plan, read, write):
    found = Bench(drives=drives(n), operation=plan, parts=FAST, needs=TEN).judged()
    assert found.rates.read_mb_s == pytest.approx(read)
    assert found.rates.write_mb_s == pytest.approx(write)


@pytest.mark.parametrize(
    ("mode", "share"), [("read-modify-write", 0.55), ("reconstruct", 0.72)]
)
def test_rates_with_a_parity_drive(mode, share):
    found = Bench(operation={"write_mode": mode}, parts=FAST, needs=TEN).judged()
    assert found.rates.read_mb_s == pytest.approx(DRIVE)
    assert found.rates.write_mb_s == pytest.approx(share * DRIVE)


def test_the_slowest_member_sets_the_pace():
    parts = {**FAST, "hdd-b": {"outer_rate_mb_s": 90}}
    striped = Bench(
        drives=drives(4), operation=operation("striped", 1), parts=parts, needs=TEN
    ).judged()
    assert striped.rates.write_mb_s == pytest.approx(3 * 0.9 * DRIVE / 2)
    # the worst target is the slow data drive, also of reads
    alone = Bench(parts=parts, needs=TEN).judged()
    assert alone.rates.read_mb_s == pytest.approx(DRIVE / 2)
    assert alone.rates.write_mb_s == pytest.approx(0.55 * DRIVE / 2)


@pytest.mark.parametrize("fill", [0.0, 0.25, 0.9])
def test_a_drive_slows_down_with_its_radius(fill):
    found = Bench(parts=FAST, needs={**TEN, "fill_fraction": fill}).judged()
    expected = 180 * math.sqrt(1 - fill * 0.75)
    assert found.rates.read_mb_s == pytest.approx(expected)


# --- network and processor -----------------------------------------------------------
def payload(gbit_s):
    """Frames of 1500 bytes: 1448 of 1538 on the wire (IEEE 802.3; TCP time stamps)."""
    return 0.9 * gbit_s * 1000 / 8 * 1448 / 1538


@pytest.mark.parametrize(
    ("port", "lead", "other"), [(1, 10, 10), (10, 1, 10), (10, 10, 1), (2.5, 5, 10)]
)
def test_the_network_is_as_fast_as_its_slowest_piece(port, lead, other):
    parts = {"board": {"network_gbit_s": port}, "lead": {"network_gbit_s": lead}}
    found = stages(
        Bench(parts=parts, needs={"other_end_gbit_s": other}).judged(), "read"
    )
    assert found["network port of board"] == pytest.approx(payload(port))
    assert found["network lead"] == pytest.approx(payload(lead))
    assert found["other end of the network"] == pytest.approx(payload(other))


def test_the_port_that_the_other_end_takes_is_in_use():
    parts = {
        "board": {**X4_SLOT, "network_gbit_s": 1},
        "card": (NetworkCard, {"network_gbit_s": 10}),
    }
    bench = {"parts": parts, "slots": (("network-1", "card", "P1"),), "needs": TEN}
    assert Bench(**bench).judged().machine.network.gbit_s == 10
    parts["card"] = (NetworkCard, {"network_gbit_s": 10, "medium": "sfp+"})
    assert Bench(**bench).judged().machine.network.gbit_s == 1


@pytest.mark.parametrize(
    ("cell", "operations"),
    [
        ("file_sharing_gb_s", {"read", "write"}),
        ("parity_gb_s_per_core", {"write", "flush"}),
        ("encryption_gb_s_per_core", {"read", "write", "flush"}),
    ],
)
def test_one_core_sets_the_pace_of_what_it_works_on(cell, operations):
    found = Bench(
        parts={"board": {cell: 0.05}, "cache": (SolidStateDrive, SATA_SSD)},
        drives=(*DRIVES, ("cache-1", "cache", "cache")),
        wires={"cache-1": {"bay": "2.5-1"}},
        operation={"cache": "single"},
        needs={"encryption": True},
    ).judged()
    for name in ("read", "write", "flush"):
        limited = stages(found, name)["processor"] == pytest.approx(50.0)
        assert limited == (name in operations)


def test_a_plain_write_needs_no_parity():
    parts = {"board": {"parity_gb_s_per_core": 0.05}}
    found = Bench(
        parts=parts, drives=drives(2), operation=operation("independent")
    ).judged()
    assert stages(found, "write")["processor"] > 50.0


# --- shared links --------------------------------------------------------------------
CHIPSET = "link between chipset and processor"


@pytest.mark.parametrize(
    ("network", "name", "expected"),
    [
        # old data and old parity up, new data and new parity down: 125 / 2
        ("cpu", "write", 62.5),
        # and what the network card receives goes up as well: 125 / 3
        ("chipset", "write", 125 / 3),
        ("cpu", "read", 125.0),
        # what is read goes up, what is sent goes down: each direction has 125
        ("chipset", "read", 125.0),
    ],
)
def test_the_chipsets_link_carries_what_hangs_behind_it(network, name, expected):
    board = {"sata_uplink": "chipset", "network_uplink": network, **SLOW_CHIPSET}
    found = Bench(parts={"board": board}, sections=HALF).judged()
    assert stages(found, name)[CHIPSET] == pytest.approx(expected)


def test_reconstruct_reads_the_others():
    """One other data drive up, target and parity down: 125 / 2 down is the less."""
    board = {"sata_uplink": "chipset", **SLOW_CHIPSET}
    mode = {"write_mode": "reconstruct"}
    found = Bench(parts={"board": board}, sections=HALF, operation=mode).judged()
    assert stages(found, "write")[CHIPSET] == pytest.approx(62.5)
    four = Bench(
        parts={"board": board},
        sections=HALF,
        operation=mode,
        drives=drives(4, DRIVES[2]),
    ).judged()
    assert stages(four, "write")[CHIPSET] == pytest.approx(125 / 3)


@pytest.mark.parametrize(
    ("n", "plan", "name", "expected"),
    [
        # three members carry two drives' worth of data: 1.5 times what is written
        (3, operation("striped", 1), "write", 125 / 1.5),
        (3, operation("striped", 1), "read", 125.0),
        (3, operation("striped", 1), "degraded read", 125 / 1.5),
        (4, operation("striped", 2), "write", 62.5),
        (4, operation("pairs"), "write", 62.5),
        (4, operation("pairs"), "read", 125.0),
        (4, operation("striped pairs"), "write", 62.5),
        (4, operation("striped pairs"), "read", 125.0),
    ],
)
def test_layouts_on_a_shared_link(n, plan, name, expected):
    board = {"sata_uplink": "chipset", **SLOW_CHIPSET}
    found = Bench(
        parts={"board": board}, sections=HALF, drives=drives(n), operation=plan
    ).judged()
    assert stages(found, name)[CHIPSET] == pytest.approx(expected)


def test_a_failed_drives_file_is_read_from_all_others():
    board = {"sata_uplink": "chipset", **SLOW_CHIPSET}
    found = Bench(parts={"board": board}, sections=HALF).judged()
    # the other data drive and parity
    assert stages(found, "degraded read")[CHIPSET] == pytest.approx(62.5)


def test_half_of_striped_pairs_on_the_link():
    """One copy of every file is there: written once, and read from the other side."""
    board = {**X4_SLOT, "sata_uplink": "chipset", **SLOW_CHIPSET}
    card = {"connectors": "4 sata", "native_ports": 4, "lanes": 4}
    wires = {f"data-{i}": {"host": "controller-1", "connector": i} for i in (1, 2)} | {
        f"data-{i}": {"host": "board", "connector": i} for i in (3, 4)
    }
    found = Bench(
        parts={"board": board, "card": (Controller, card)},
        slots=(("controller-1", "card", "P1"),),
        wires=wires,
        sections=HALF,
        drives=drives(4),
        operation=operation("striped pairs"),
    ).judged()
    assert stages(found, "write")[CHIPSET] == pytest.approx(125.0)
    assert stages(found, "read")[CHIPSET] == pytest.approx(125.0)


MODULE = {
    "drives": (*DRIVES, ("cache-1", "cache", "cache")),
    "slots": (("cache-1", "cache", "M1"),),
    "operation": {"cache": "single"},
}


@pytest.mark.parametrize(("uplink", "expected"), [("chipset", 125.0), ("cpu", 400.0)])
def test_a_module_behind_the_chipset_shares_its_link(uplink, expected):
    slots = f"M1 m2 keyM 2280 x4 gen3 {uplink} nvme"
    board = {"slots": slots, "network_gbit_s": 10, **SLOW_CHIPSET}
    found = Bench(
        parts={"board": board, "cache": (SolidStateDrive, NVME)},
        needs={**TEN, "burst_gb": 100},
        sections=HALF,
        **MODULE,
    ).judged()
    assert found.rates.ingest_mb_s == pytest.approx(expected)


def test_a_flush_over_the_chipsets_link():
    """The cache is read up; old data and parity come up, new ones go down: 125 / 3."""
    slots = "M1 m2 keyM 2280 x4 gen3 chipset nvme"
    board = {"slots": slots, "sata_uplink": "chipset", **SLOW_CHIPSET}
    found = Bench(
        parts={"board": board, "cache": (SolidStateDrive, NVME)},
        sections=HALF,
        **MODULE,
    ).judged()
    assert stages(found, "flush")[CHIPSET] == pytest.approx(125 / 3)


@pytest.mark.parametrize(("lanes", "expected"), [(1, 125.0), (2, 250.0), (4, 500.0)])
def test_a_modules_own_lanes(lanes, expected):
    """250 MB/s a lane, half of it planned; the module itself reads 2000 MB/s."""
    board = {"slots": f"M1 m2 keyM 2280 x{lanes} gen1 cpu nvme"}
    cache = {**NVME, "read_mb_s": 2000}
    found = Bench(
        parts={"board": board, "cache": (SolidStateDrive, cache)},
        sections=HALF,
        **MODULE,
    ).judged()
    assert stages(found, "flush")["cache read"] == pytest.approx(expected)


LEG = "shared link behind the multiplier of controller-1"
MULTIPLIED = {
    "connectors": "5 sata",
    "native_ports": 1,
    "topology": "multiplier",
    "lanes": 4,
}


def behind_a_multiplier(**card):
    return Bench(
        parts={"board": X4_SLOT, "card": (Controller, {**MULTIPLIED, **card})},
        slots=(("controller-1", "card", "P1"),),
        wires=on("controller-1"),
        sections={"overrides": {"multiplier_host_mb_s": 100}},
    ).judged()


def test_a_multipliers_leg_moves_one_way_at_a_time():
    """Serial ATA is half duplex: two reads and two writes a MB share 100 MB/s."""
    found = behind_a_multiplier(switching="fis")
    assert stages(found, "write")[LEG] == pytest.approx(25.0)
    assert stages(found, "read")[LEG] == pytest.approx(100.0)
    assert stages(found, "degraded read")[LEG] == pytest.approx(50.0)


def test_a_leg_at_half_the_line_rate():
    found = behind_a_multiplier(switching="fis", host_link_gbit_s=3)
    assert stages(found, "write")[LEG] == pytest.approx(12.5)


@pytest.mark.parametrize(
    ("switching", "expected"), [("fis", 400 / 4), ("command", 0.83 * DRIVE / 4)]
)
def test_command_switching_serves_one_drive_at_a_time(switching, expected):
    found = Bench(
        parts={
            "board": X4_SLOT,
            "card": (Controller, {**MULTIPLIED, "switching": switching}),
        },
        slots=(("controller-1", "card", "P1"),),
        wires=on("controller-1"),
        sections={"overrides": {"multiplier_host_mb_s": 400}},
    ).judged()
    assert stages(found, "write")[LEG] == pytest.approx(expected)
    assert stages(found, "read")["drives"] == pytest.approx(0.83 * DRIVE)


@pytest.mark.parametrize(("gbit_s", "expected"), [(6, 180.0), (1.5, 137.5), (3, 180.0)])
def test_ports_of_an_old_line_rate(gbit_s, expected):
    """275 MB/s are planned at 3 Gb/s, half of that at 1.5; the drive moves 180."""
    parts = {"board": {"sata_gbit_s": gbit_s, "network_gbit_s": 10}}
    found = Bench(parts=parts, needs=TEN).judged()
    assert stages(found, "read", 0.0)["drives"] == pytest.approx(expected)


# --- cache ---------------------------------------------------------------------------
def cached(cell=None, n=1, **bench):
    caches = tuple((f"cache-{i}", "cache", "cache") for i in range(1, n + 1))
    return Bench(
        parts={
            "board": {"network_gbit_s": 10},
            "cache": (SolidStateDrive, {**SATA_SSD, **(cell or {})}),
        },
        drives=(*DRIVES, *caches),
        wires={f"cache-{i}": {"bay": f"2.5-{i}"} for i in range(1, n + 1)},
        operation={"cache": {1: "single", 2: "mirror"}[n]},
        needs={**TEN, "cache_mirror": False, **bench.pop("needs", {})},
        **bench,
    ).judged()


def test_a_flush_is_no_faster_than_the_cache_reads():
    found = cached({"read_mb_s": 40})
    assert stages(found, "flush")["cache read"] == pytest.approx(40.0)
    hours = found.year.transfers.flush_h
    volume_mb = found.scenario.usage.ingest_gb_per_day * 1000
    assert hours == pytest.approx(volume_mb / 40.0 / 3600.0)


def test_a_burst_passes_fast_region_slow_region_and_overflow():
    """36 GB at 500 MB/s, up to 0.9 of 250 GB at 100, the rest at 0.55 of a drive."""
    cell = {"fast_write_mb_s": 500, "fast_gb": 36, "write_mb_s": 100}
    usable_gb = 0.9 * 250.059350016  # the trade's sectors of 250 GB (IDEMA LBA1-03)
    found = cached(cell, needs={"burst_gb": 300})
    seconds = (
        36e3 / 500 + (usable_gb - 36) * 10 + (300 - usable_gb) * 1e3 / (0.55 * DRIVE)
    )
    assert found.rates.ingest_mb_s == pytest.approx(300e3 / seconds, rel=1e-4)


def test_a_small_fast_region_is_one():
    """Half a gigabyte at 500 MB/s, the other half at 100."""
    cell = {"fast_write_mb_s": 500, "fast_gb": 0.5, "write_mb_s": 100}
    found = cached(cell, needs={"burst_gb": 1})
    assert found.rates.ingest_mb_s == pytest.approx(1000 / (1 + 5))


def test_a_mirror_is_as_good_as_its_worse_half():
    """Another drive of 125 GB and 80 MB/s beside one of 250 GB and 400 MB/s."""
    found = Bench(
        parts={
            "board": {"network_gbit_s": 10},
            "cache": (SolidStateDrive, SATA_SSD),
            "other": (SolidStateDrive, {**SATA_SSD, "tb": 0.125, "write_mb_s": 80}),
        },
        drives=(*DRIVES, ("cache-1", "cache", "cache"), ("cache-2", "other", "cache")),
        wires={"cache-1": {"bay": "2.5-1"}, "cache-2": {"bay": "2.5-2"}},
        operation={"cache": "mirror"},
        needs={**TEN, "burst_gb": 112},
    ).judged()
    assert found.rates.ingest_mb_s == pytest.approx(80.0)


@pytest.mark.parametrize(("n", "factor"), [(1, 1), (2, 2)])
def test_what_the_cache_is_written_wears_it(n, factor):
    """50 GB a day, 1.2 times on the flash: 21.9 of 100 TB a year, of 40 units of money."""
    found = cached(n=n, sections={"usage": {"ingest_gb_per_day": 50}})
    assert found.cost.cache_wear == pytest.approx(factor * 5 * 40 * 21.9 / 100)


def test_what_overflows_does_not_wear_the_cache():
    found = cached(sections={"usage": {"ingest_gb_per_day": 1000}})
    written_tb = 0.9 * 0.250059350016 * 365 * 1.2
    assert found.cost.cache_wear == pytest.approx(5 * 40 * written_tb / 100, rel=1e-4)


# --- watts ---------------------------------------------------------------------------
def wall(dc_w, rated_w=240):
    """Fixed 3 W, a tenth, and 0.02 of the square over the rating."""
    return dc_w + 3 + 0.1 * dc_w + 0.02 * dc_w**2 / rated_w


def test_watts_by_state():
    """Board 30 or 36 W, memory 1, case 2, stick 0.2, drives 0.5, 4 or 5 W each."""
    found = PLAIN.wall
    assert found.asleep_w == pytest.approx(wall(30 + 3.2 + 1.5))
    assert found.spinning_w == pytest.approx(wall(30 + 3.2 + 12))
    assert found.checking_w == pytest.approx(wall(36 + 3.2 + 15))
    # a start takes 2.0 A of 12 V and 0.5 A of 5 V instead of 5 W
    assert found.peak_w == pytest.approx(wall(36 + 3.2 + 15 + 3 * 21.5))


def test_reading_and_writing_watts():
    """Only the drive of the file works on a read; target and parity on a write."""
    mode = {"layout": "independent", "n_parity": 1, "write_mode": "read-modify-write"}
    found = Bench(operation={**mode, "timeout_min": None}).judged().wall
    assert found.reading_w == pytest.approx(wall(36 + 3.2 + 5 + 4 + 4))
    assert found.writing_w == pytest.approx(wall(36 + 3.2 + 5 + 4 + 5))
    every = Bench(operation={**mode, "write_mode": "reconstruct"}).judged().wall
    assert every.writing_w == pytest.approx(wall(36 + 3.2 + 15))


def test_a_card_that_blocks_costs_the_boards_deep_idle():
    """2 W of the card and 3 W of the board, day and night."""
    bench = {"slots": (("controller-1", "card", "P1"),)}
    for blocks, loss in (("no", 0), ("unknown", 3), ("yes", 3)):
        parts = {
            "board": X4_SLOT,
            "card": (Controller, {"blocks_deep_idle": blocks}),
        }
        found = Bench(parts=parts, **bench).judged().wall
        assert found.asleep_w == pytest.approx(wall(30 + 3.2 + 1.5 + 2 + loss))


@pytest.mark.parametrize(
    ("kind", "cells", "idle_w", "reading_w", "checking_w"),
    [
        (Controller, {"idle_w": 2, "active_w": 3}, 2, 3, 3),
        (NetworkCard, {"idle_w": 3, "active_w": 5, "network_gbit_s": 1}, 3, 5, 3),
    ],
)
def test_parts_work_when_their_work_is_done(kind, cells, idle_w, reading_w, checking_w):
    parts = {"board": X4_SLOT, "card": (kind, cells)}
    slots = (("card-1", "card", "P1"),)
    never = {"timeout_min": None}
    found = Bench(parts=parts, slots=slots, operation=never).judged().wall
    assert found.asleep_w == pytest.approx(wall(30 + 3.2 + 1.5 + idle_w))
    assert found.reading_w == pytest.approx(wall(36 + 3.2 + 13 + reading_w))
    assert found.checking_w == pytest.approx(wall(36 + 3.2 + 15 + checking_w))


def test_a_display_card_and_a_cooler_draw_all_the_time():
    parts = {
        "board": {**X4_SLOT, "socket": "s1"},
        "processor": (Processor, {}),
        "cooler": (Cooler, {}),
        "card": (DisplayCard, {}),
    }
    found = Bench(parts=parts, slots=(("display-1", "card", "P1"),)).judged().wall
    assert found.asleep_w == pytest.approx(wall(30 + 3.2 + 1.5 + 2 + 1 + 4))
    assert found.checking_w == pytest.approx(wall(36 + 3.2 + 15 + 20 + 1 + 4))


def test_solid_state_drives_work_on_writes_through_the_cache():
    never = {"cache": "single", "timeout_min": None}
    found = (
        Bench(
            parts={"cache": (SolidStateDrive, SATA_SSD)},
            drives=(*DRIVES, ("cache-1", "cache", "cache")),
            wires={"cache-1": {"bay": "2.5-1"}},
            operation=never,
        )
        .judged()
        .wall
    )
    assert found.reading_w == pytest.approx(wall(36 + 3.2 + 13 + 0.5))
    assert found.writing_w == pytest.approx(wall(36 + 3.2 + 14 + 2.0))
    assert found.checking_w == pytest.approx(wall(36 + 3.2 + 15 + 0.5))


# --- starts --------------------------------------------------------------------------
STAGGERED = {"board": {"has_staggered_spin_up": True}}


@pytest.mark.parametrize(
    ("bench", "group"),
    [
        ({}, 3),
        ({"parts": STAGGERED}, 2),
        ({"parts": STAGGERED, "operation": {"write_mode": "reconstruct"}}, 3),
        (
            {
                "parts": STAGGERED,
                "operation": {"write_mode": "reconstruct"},
                "sections": {"choices": {"sequential_wake_verified": True}},
            },
            2,
        ),
        (
            {"parts": STAGGERED, "drives": drives(4), "operation": operation("pairs")},
            4,
        ),
        (
            {
                "parts": STAGGERED,
                "drives": drives(3),
                "operation": operation("independent"),
            },
            1,
        ),
    ],
)
def test_how_many_drives_start_at_once(bench, group):
    """All where nothing staggers them; target and parity where hosts do."""
    found = Bench(**bench).judged()
    assert wake_group(found.machine) == group
    n = len(found.machine.array)
    busy = 36 + 3.2 + 5 * n
    assert peak_dc_w(found.machine) == pytest.approx(busy + group * 21.5)


def test_every_host_has_to_stagger():
    card = {"connectors": "4 sata", "native_ports": 4, "lanes": 4}
    for on_board, on_card in ((True, True), (True, False), (False, True)):
        board = {**X4_SLOT, "has_staggered_spin_up": on_board}
        cells = {**card, "has_staggered_spin_up": on_card}
        found = Bench(
            parts={"board": board, "card": (Controller, cells)},
            slots=(("controller-1", "card", "P1"),),
            wires={"data-1": {"host": "controller-1", "connector": 1}},
        ).judged()
        assert starts_in_turn(found.machine) == (on_board and on_card)


def test_the_hungriest_drives_start_first():
    """Two of three at once: the drives of 2.5 A are the worst, 2 * (2.5 - 0.4) more."""
    parts = {**STAGGERED, "hdd-a": {"spin_up_12v_a": 2.5}}
    found = Bench(parts=parts).judged()
    base = 37 / 12 + 0.2 + 3 * 0.4
    assert rail_12v_a(found.machine, 1) == pytest.approx(base + 2.1)
    assert rail_12v_a(found.machine, 2) == pytest.approx(base + 4.2)
    assert rail_12v_a(found.machine, 3) == pytest.approx(base + 4.2 + 1.6)
    extra = 2 * (2.5 * 12 + 0.5 * 5 - 5)
    assert peak_dc_w(found.machine) == pytest.approx(36 + 3.2 + 15 + extra)


def test_a_stated_current_counts_instead_of_watts():
    bench = Bench(parts={"board": {"base_12v_a": 1.5}})
    made = bench.made()
    assert base_12v_a(made["board"]) == 1.5
    assert base_12v_a(made["case"]) == 0.2
    assert base_12v_a(made["hdd-a"]) == 0.0
    assert base_12v_a(made["boot"]) == 0.0
    assert base_12v_a(made["memory"]) == pytest.approx(1 / 12)


# --- capacity ------------------------------------------------------------------------
FOUR_TB = 4_000_787_030_016  # IDEMA LBA1-03, quoted from memory
SIX_TB = 6_001_175_126_016


@pytest.mark.parametrize(
    ("plan", "array_b", "wasted_b"),
    [
        (operation("independent"), 2 * FOUR_TB + 2 * SIX_TB, 0),
        (operation("striped", 1), 3 * FOUR_TB, 2 * (SIX_TB - FOUR_TB)),
        (operation("striped", 2), 2 * FOUR_TB, 2 * (SIX_TB - FOUR_TB)),
        (operation("pairs"), FOUR_TB + SIX_TB, 0),
        (operation("striped pairs"), FOUR_TB + SIX_TB, 0),
    ],
)
def test_from_printed_to_usable(plan, array_b, wasted_b):
    """Two drives of 4 and two of 6 TB; 2 % for the file system, filled to 95 %."""
    found = (
        Bench(parts={"hdd-b": {"tb": 6}}, drives=drives(4), operation=plan)
        .judged()
        .capacity
    )
    assert found.printed_tb == pytest.approx(20)
    assert found.held_tb == pytest.approx((2 * FOUR_TB + 2 * SIX_TB) / 1e12)
    assert found.array_tb == pytest.approx(array_b / 1e12)
    assert found.file_system_tb == pytest.approx(0.98 * array_b / 1e12)
    assert found.usable_tb == pytest.approx(0.95 * 0.98 * array_b / 1e12)
    assert found.wasted_tb == pytest.approx(wasted_b / 1e12)


def test_an_odd_pair_out_wastes_its_surplus():
    found = (
        Bench(
            parts={"hdd-b": {"tb": 6}}, drives=drives(2), operation=operation("pairs")
        )
        .judged()
        .capacity
    )
    assert found.array_tb == pytest.approx(FOUR_TB / 1e12)
    assert found.wasted_tb == pytest.approx((SIX_TB - FOUR_TB) / 1e12)


# --- a check and a rebuild -----------------------------------------------------------
def pass_h(share_mb_s=math.inf, bytes_=FOUR_TB):
    """Integrate over the surface: bytes over the rate of each place."""
    x = (np.arange(200_000) + 0.5) / 200_000
    rate = np.minimum(180 * np.sqrt(1 - x * 0.75), share_mb_s)
    return float(np.mean(bytes_ / 1e6 / rate)) / 3600


def test_a_check_reads_every_drive_from_end_to_end():
    assert PLAIN.year.transfers.check_h == pytest.approx(pass_h(), rel=1e-6)
    assert PLAIN.rebuild_h == pytest.approx(pass_h(), rel=1e-6)


def test_a_check_behind_a_shared_link():
    """Three members on 125 MB/s: 41.7 each. A rebuild reads and writes each way."""
    board = {"sata_uplink": "chipset", **SLOW_CHIPSET}
    found = Bench(parts={"board": board}, sections=HALF).judged()
    assert found.year.transfers.check_h == pytest.approx(pass_h(125 / 3), rel=1e-6)
    legs = behind_a_multiplier(switching="fis")
    slowed = pass_h(100 / 3 / 0.83) / 0.83  # each drive keeps 0.83 of its rate
    assert legs.year.transfers.check_h == pytest.approx(slowed, rel=1e-6)
    # one more drive is written on a link that moves one way at a time
    slowed = pass_h(100 / 4 / 0.83) / 0.83
    assert legs.rebuild_h == pytest.approx(slowed, rel=1e-6)


# --- money ---------------------------------------------------------------------------
def test_purchase_is_the_sum_of_the_list_and_its_spares():
    """Case 50, board 100, supply 40, memory 20, stick 10, lead 5, three drives of 100,
    three cables of 3 and one to spare."""
    assert PLAIN.cost.purchase == pytest.approx(537)


def test_terms_over_five_years_at_five_per_cent():
    """Annuity of five years at 5 %: 4.3294767 (any table of annuities)."""
    sections = {
        "money": {"tariff_per_kwh": 0.3, "discount": 0.05, "resale_fraction": 0.2}
    }
    found = Bench(sections=sections).judged()
    wakes = found.year.operating.data.wakes * 2 + found.year.operating.parity.wakes
    annuity = 4.3294767
    assert found.cost.energy == pytest.approx(0.3 * found.year.kwh * annuity)
    assert found.cost.wear == pytest.approx(wakes * 100 / 50_000 * annuity)
    assert found.cost.replacements == pytest.approx(3 * 0.02 * 100 * annuity)
    assert found.cost.resale == pytest.approx(-0.2 * 537 / 1.05**5)


def test_energy_alone_grows_with_the_tariff():
    """0.3 at first and 2 % more each year: 1 + 1.02 + ... + 1.02^4 = 5.20404016."""
    sections = {"money": {"tariff_per_kwh": 0.3, "tariff_growth": 0.02}}
    found = Bench(sections=sections).judged()
    assert found.cost.energy == pytest.approx(0.3 * found.year.kwh * 5.20404016)
    assert found.cost.replacements == pytest.approx(3 * 0.02 * 100 * 5)


# --- the year ------------------------------------------------------------------------
def test_states_fill_the_year_and_add_up():
    hours = {s.name: 0.0 for s in PLAIN.year.states}
    for state in PLAIN.year.states:
        hours[state.name] += state.hours
        assert state.kwh == pytest.approx(state.hours * state.wall_w / 1000)
        assert state.wall_w == pytest.approx(wall(state.dc_w))
    assert sum(hours.values()) == pytest.approx(8760)
    volume_mb = PLAIN.scenario.usage.ingest_gb_per_day * 1000
    ingest_h = volume_mb / (0.55 * DRIVE) / 3600
    assert hours["ingesting"] == pytest.approx(365 * ingest_h)
    checks = PLAIN.scenario.usage.checks_per_year
    assert checks > 0
    plan_checks = PLAIN.build.operation.checks_per_year
    assert hours["checking"] == pytest.approx(plan_checks * pass_h(), rel=1e-6)


def test_drives_that_never_stop_spin_all_year():
    found = Bench(operation={"timeout_min": None}).judged()
    assert found.year.operating.data.wakes == 0
    assert "asleep" not in {s.name for s in found.year.states}
    names = {s.name: s.dc_w for s in found.year.states}
    assert names["spinning"] == pytest.approx(30 + 3.2 + 12)


def test_a_machine_that_nobody_uses_sleeps():
    """No sessions, no ingest, no checks: 8760 h at 34.7 W of direct current."""
    usage = {
        "ingest_gb_per_day": 0,
        "sessions_per_day": 0,
        "metadata_sessions_per_day": 0,
        "checks_per_year": 0,
    }
    found = Bench(sections={"usage": usage}, operation={"checks_per_year": 0}).judged()
    assert found.year.kwh == pytest.approx(8.76 * wall(34.7))
    assert found.year.operating.data.wakes == 0


def test_only_terms_that_count_are_summed():
    """Replacements cost 30 over five years and do not count unless asked for."""
    terms = ["purchase", "energy", "wear", "cache wear"]
    for more, extra in (([], 0.0), (["replacements"], 30.0)):
        money = {"tariff_per_kwh": 0.3, "terms": [*terms, *more]}
        found = Bench(sections={"money": money}).judged()
        counted = PLAIN.cost.purchase + PLAIN.cost.energy + PLAIN.cost.wear
        assert found.total_cost == pytest.approx(counted + extra)


def test_usage_in_hours():
    """24 sessions a day, 6 of them to lists; 3 min apart; 90 s each."""
    usage = {
        "sessions_per_day": 24,
        "metadata_sessions_per_day": 6,
        "accesses_per_session": 5,
        "minutes_between": 3,
        "seconds_per_access": 90,
        "ingest_hour": 19,
        "check_hour": 7,
    }
    scenario = Bench(sections={"usage": usage}).scenario()
    use = day_use(scenario, 3.0, 12.0)
    assert use.sessions_per_h == pytest.approx(1.0)
    assert use.metadata_per_h == pytest.approx(0.25)
    assert use.accesses == 5
    assert use.gap_h == pytest.approx(0.05)
    assert use.service_h == pytest.approx(0.025)
    assert (use.ingest_hour, use.flush_hour, use.check_hour) == (19, 3, 7)
    assert use.checks_per_year == 12


def test_who_works_in_each_state_of_the_year():
    """Controller 2 or 3 W, network card 3 or 5, a cache drive 0.5 or 2, drives 4 or 5."""
    found = Bench(
        parts={
            "board": X4_SLOT,
            "ctl": (Controller, {}),
            "net": (NetworkCard, {"network_gbit_s": 1}),
            "cache": (SolidStateDrive, SATA_SSD),
        },
        slots=(("controller-1", "ctl", "P1"), ("network-1", "net", "P2")),
        drives=(*DRIVES, ("cache-1", "cache", "cache")),
        wires={"cache-1": {"bay": "2.5-1"}},
        operation={"cache": "single", "timeout_min": None},
        sections={"usage": {"sessions_per_day": 2}},
    ).judged()
    watts = {state.name: state.dc_w for state in found.year.states}
    idle, busy = 30 + 3.2, 36 + 3.2
    assert watts["spinning"] == pytest.approx(idle + 12 + 2 + 3 + 0.5)
    # one of two data drives at work, and the network
    assert watts["reading"] == pytest.approx(busy + 5 + 4 + 4 + 3 + 5 + 0.5)
    # into the cache, the array idle
    assert watts["ingesting"] == pytest.approx(busy + 12 + 3 + 5 + 2)
    # out of it, without the network; the target is either of two data drives
    assert watts["flushing"] == pytest.approx(busy + 5 + 4 + 5 + 3 + 3 + 2)
    assert watts["checking"] == pytest.approx(busy + 15 + 3 + 3 + 0.5)


@pytest.mark.parametrize(
    ("timeout_min", "dc_w"), [(30, 30 + 3.2 + 1.5), (None, 30 + 3.2 + 12)]
)
def test_hours_cost_what_their_band_says(timeout_min, dc_w):
    """Nobody uses it: 8 h a day at 0.20 and 16 h at 0.35 are 0.30 a kWh all year."""
    bands = [
        {"from_hour": 22, "to_hour": 6, "price_per_kwh": 0.20},
        {"from_hour": 6, "to_hour": 22, "price_per_kwh": 0.35},
    ]
    usage = {
        "ingest_gb_per_day": 0,
        "sessions_per_day": 0,
        "metadata_sessions_per_day": 0,
        "checks_per_year": 0,
    }
    found = Bench(
        sections={"usage": usage, "money": {"bands": bands}},
        operation={"timeout_min": timeout_min, "checks_per_year": 0},
    ).judged()
    assert found.year.energy_money == pytest.approx(8.76 * wall(dc_w) * 0.30)


def test_a_block_costs_what_its_own_hours_say():
    """An ingest from 22 o'clock within the cheap band: its hours cost 0.20."""
    bands = [
        {"from_hour": 22, "to_hour": 6, "price_per_kwh": 0.20},
        {"from_hour": 6, "to_hour": 22, "price_per_kwh": 0.35},
    ]
    usage = {"ingest_gb_per_day": 500, "ingest_hour": 22, "sessions_per_day": 0}
    found = Bench(
        sections={"usage": usage, "money": {"bands": bands}},
        operation={"timeout_min": None},
    ).judged()
    [ingest] = [s for s in found.year.states if s.name == "ingesting"]
    assert ingest.money == pytest.approx(ingest.kwh * 0.20)
    [check] = [s for s in found.year.states if s.name == "checking"]
    # from 6 o'clock on, eight hours
    assert check.money == pytest.approx(check.kwh * 0.35)


def test_a_wake_adds_its_joules():
    """100 J a start beyond idling: 3600 J are a watt-hour."""
    [asleep] = [s for s in PLAIN.year.operating.states if s.name == "asleep"]
    [row] = [s for s in PLAIN.year.states if s.name == "asleep"]
    assert asleep.data.wakes_per_h > 0
    expected = 30 + 3.2
    for mix, n in ((asleep.data, 2), (asleep.parity, 1)):
        expected += n * (4 * mix.idle + 0.5 * (1 - mix.idle))
        expected += n * mix.wakes_per_h * 100 / 3600
    assert row.dc_w == pytest.approx(expected)

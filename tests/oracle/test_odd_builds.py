"""The evaluator on builds that make no sense: findings, never an exception."""

import math
import random

import pytest

from optibox.assess import assess
from optibox.catalog.attachment import Riser
from optibox.catalog.notation import slots_from_text
from optibox.catalog.platform import Board, PowerLead, PowerSupply
from optibox.catalog.storage import HardDrive
from optibox.machine.view import trained
from optibox.rules.lanes import riser_works
from optibox.scenario import Scenario
from tests.support.enumerate import outcome_of
from tests.support.mutations import mutated
from tests.support.parts import catalog_of, make, plain_parts
from tests.support.tiny import THEMES, seeded

SCENARIO = {
    "needs": {"usable_tb": 3, "failures_survived": 0},
    "limits": {"array_drives": 1},
    "money": {"tariff_per_kwh": 0.3},
    "choices": {
        "layouts": ("independent",),
        "caches": ("none",),
        "timeouts_min": (30,),
        "allow_never": False,
    },
}


def outcome(*more, **sections):
    parts = plain_parts() | {part.id: part for part in more}
    scenario = Scenario.model_validate({**SCENARIO, **sections})
    return outcome_of(catalog_of(parts.values()), scenario)


@pytest.mark.parametrize("seed", range(len(THEMES)))
def test_evaluator_takes_any_build(seed):
    """Up to four things changed in a fit build: figures and findings still come."""
    instance, found = seeded(seed)
    source = random.Random(seed)
    for assessment in found.fit[:10]:
        for _ in range(10):
            build = assessment.build
            for _ in range(source.choice((1, 2, 4))):
                build = mutated(build, source)
            odd = assess(build, instance.scenario)
            chains = odd.chains(0.5)
            figures = (odd.total_cost, odd.year.kwh, odd.wall.peak_w, odd.rebuild_h)
            assert all(figure >= 0 for figure in figures), build
            assert all(chain.rate_mb_s >= 0 for chain in chains)
            assert odd.burst.volume_mb >= 0


def test_a_case_is_no_drive():
    (found,) = outcome().fit
    source = random.Random(0)
    build = found.build
    while not any(drive.key == "case" for drive in build.drives):
        build = mutated(found.build, source)
    odd = assess(build, found.scenario)
    assert "K2" in {finding.rule for finding in odd.errors}


def test_ports_on_a_chipset_without_link():
    """Zero lanes mean that there is no such link: nothing is limited by it."""
    found = outcome(make(Board, "board", sata_uplink="chipset", chipset_lanes=0)).fit[0]
    assert math.isfinite(found.year.transfers.check_h)


def test_splitters_do_not_hang_on_themselves():
    """A splitter for SATA plugs at a supply that has none of them feeds nothing.

    Its two plugs would outnumber the drive's and its own, but nothing feeds it.
    """
    leads = {"leads": "peripheral 3"}
    alone = outcome(
        make(PowerSupply, "supply", **leads),
        make(PowerLead, "splitter", takes_plug="sata", fan_out=2, carries_3v3=True),
    )
    assert not alone.fit
    with_adapter = outcome(
        make(PowerSupply, "supply", **leads), make(PowerLead, "adapter")
    )
    assert with_adapter.fit


@pytest.mark.parametrize(("stock", "fits"), [(1, False), (2, True)])
def test_spares_come_from_the_same_stock(stock, fits):
    """One drive in use and one on the shelf are two to buy."""
    found = outcome(
        make(HardDrive, "hdd-4", stock=stock), spares=({"id": "hdd-4", "count": 1},)
    )
    assert bool(found.fit) == fits


def test_riser_has_the_lanes_of_its_edge():
    """An x4 edge in an x8 slot trains as x4 and carries one x4 module, not two."""
    (slot,) = slots_from_text("P1 x8 gen3 cpu bifurcates")
    narrow = make(Riser, "narrow", lanes=4, n_sockets=2)
    wide = make(Riser, "wide", lanes=8, n_sockets=2)
    board = make(Board, "board")
    assert trained(narrow, slot) == (3, 4)
    assert trained(wide, slot) == (3, 8)
    assert not riser_works(narrow, slot, 2, board)
    assert riser_works(wide, slot, 2, board)

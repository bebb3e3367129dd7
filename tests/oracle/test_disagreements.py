"""Small instances on which program and enumeration once disagreed."""

import pytest

from optibox.catalog.platform import Board, Chassis
from optibox.catalog.storage import DriveAdapter, HardDrive
from optibox.scenario import Scenario
from optibox.search.plan import plan
from tests.support.enumerate import outcome_of
from tests.support.parts import catalog_of, make, plain_parts
from tests.support.tiny import seeded


def test_cables_in_packs_and_in_the_box_under_a_spinning_limit():
    """Two small drives and a cool one as parity on the board with cables in its box.

    Three cables, two of them in the board's box: one pack of two for 5. At 773.59 the
    whole draws 21.4 W spinning of the 22 W allowed.
    """
    parts = plain_parts()
    for part in (
        make(Chassis, "case", bays_25=2, bay_25_height_mm=15),
        make(Board, "board", comes_with="cable x2"),
        make(Board, "thrifty", price=160, idle_w=5),
        make(type(parts["cable"]), "cable", price=5, pack=2),
        make(HardDrive, "cool", price=125, idle_w=2.5, standby_w=0.2),
        make(HardDrive, "small-4", price=90, idle_w=1.5, form="2.5", height_mm=15),
    ):
        parts[part.id] = part
    scenario = Scenario.model_validate(
        {
            "needs": {"usable_tb": 7},
            "limits": {"spinning_w": 22, "array_drives": 3},
            "usage": {"ingest_gb_per_day": 60},
            "money": {"tariff_per_kwh": 0.3},
            "choices": {
                "layouts": ("independent",),
                "caches": ("none",),
                "timeouts_min": (30,),
                "allow_never": False,
            },
        }
    )
    catalog = catalog_of(parts.values())
    value, best = outcome_of(catalog, scenario).best("total cost")
    assert value == pytest.approx(773.588, abs=0.001)
    assert best.wall.spinning_w == pytest.approx(21.389, abs=0.001)
    found = plan(catalog, scenario).assessment
    assert found.total_cost == pytest.approx(value, abs=0.01)


def test_two_tall_drives_one_bay_for_a_frame():
    """Small drives 15 mm high, a small bay for 9.5 mm, one large bay: one drive fits.

    Two drives are needed, so that nothing fits: a second frame does not make a second
    large bay.
    """
    parts = plain_parts()
    for part in (
        make(
            Chassis,
            "case",
            bays_35=1,
            bays_25=1,
            bay_25_height_mm=9.5,
        ),
        make(
            HardDrive,
            "small-4",
            form="2.5",
            height_mm=15,
            price=90,
            idle_w=1.5,
            active_w=2.2,
            standby_w=0.2,
            outer_rate_mb_s=130,
            spin_up_12v_a=0,
            run_12v_a=0,
        ),
        make(DriveAdapter, "frame", fits_tray=True),
    ):
        parts[part.id] = part
    scenario = Scenario.model_validate(
        {
            "needs": {"usable_tb": 7, "failures_survived": 0},
            "limits": {"array_drives": 3},
            "money": {"tariff_per_kwh": 0.3},
            "choices": {
                "layouts": ("independent",),
                "caches": ("none",),
                "timeouts_min": (30,),
                "allow_never": False,
            },
        }
    )
    catalog = catalog_of(parts.values())
    assert outcome_of(catalog, scenario).best("total cost") is None
    assert plan(catalog, scenario, time_limit_s=20).status == "infeasible"


def test_least_purchase_is_not_bounded_too_high():
    """Two SAS drives behind one forward cable; found by the long oracle."""
    instance, outcome = seeded(573)
    choices = instance.scenario.choices.model_copy(update={"aim": "purchase"})
    scenario = instance.scenario.model_copy(update={"choices": choices})
    found = plan(instance.catalog, scenario)
    assert found.proof.bound <= outcome.best("purchase")[0] + 0.01

"""Currents of a start by group and by lead, added up on paper."""

import pytest

from optibox.report.wiring_map import context_of
from optibox.rules.currents import currents_of
from tests.unit.rules.bench import Bench


def currents(**changes):
    return currents_of(context_of(Bench(**changes).judged()))


def test_each_group_adds_a_start():
    """Three drives of 2.0 A starting and 0.4 A running each."""
    found = currents()
    base = found.base_12v_a
    assert [g.on_12v_a - base for g in found.groups] == pytest.approx([2.8, 4.4, 6.0])
    assert [g.on_5v_a for g in found.groups] == pytest.approx([3 * 0.5 + 0.1] * 3)


def test_the_base_is_the_busy_watts_over_12_volts():
    """Board 36 W and memory 1 W from 12 V, fans 0.2 A, no drives."""
    assert currents().base_12v_a == pytest.approx(37 / 12 + 0.2)


def test_drives_are_spread_over_the_leads():
    found = currents()
    loads = [(lead.name, lead.feeds, lead.on_12v_a) for lead in found.leads]
    assert loads == [
        ("lead 1 (SATA power, 4 plugs)", ("data-1", "parity-1"), 4.0),
        ("lead 2 (SATA power, 4 plugs)", ("data-2",), 2.0),
    ]
    # 8 A on 18 AWG: four plugs of 4.5 A are no wire of 18 A
    assert found.leads[0].most_a == pytest.approx(8.0)


def test_trays_hang_on_the_leads_of_their_inlets():
    """Three drives of 2.0 A starting and fans of 0.2 A."""
    found = currents(
        parts={
            "case": {"backplane_connector": "sata", "backplane_power": "peripheral 1"},
            "supply": {"leads": "sata 2 | peripheral 2"},
        }
    )
    sata, peripheral = found.leads
    assert sata.feeds == ()
    assert peripheral.feeds == ("backplane-1",)
    assert peripheral.on_12v_a == pytest.approx(6.2)
    assert peripheral.at_work_12v_a == pytest.approx(1.4)
    assert peripheral.most_a == pytest.approx(8.0)


def test_the_largest_group_keeps_the_planned_share():
    found = currents(parts={"supply": {"rail_12v_a": 10}})
    assert found.planned_12v_a == pytest.approx(8.0)
    assert found.largest_group == 2

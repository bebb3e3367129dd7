"""Power by part adds up to the evaluator's own figures, bounds enclose them."""

import pytest

from optibox.figures.parts_power import STATES, power_table
from optibox.physics.power import Supply, wall_w
from tests.unit.present.machines import invented, large, reference


@pytest.fixture(scope="module", params=[reference, large], ids=["reference", "large"])
def found(request):
    return request.param(invented())


def test_parts_deep_idle_and_supply_add_up_to_the_wall(found):
    table = power_table(found.machine, found.busy_mixes)
    wall = {
        "asleep": found.wall.asleep_w,
        "spinning": found.wall.spinning_w,
        "reading": found.wall.reading_w,
        "writing": found.wall.writing_w,
        "checking": found.wall.checking_w,
    }
    assert set(wall) == set(STATES)
    for state, expected in wall.items():
        parts = sum(row.watts[state].mid for row in table.parts)
        dc = parts + table.deep_idle.mid
        assert dc == pytest.approx(table.dc[state].mid)
        assert table.wall[state].mid == pytest.approx(expected)
        assert dc + table.loss_w(state) == pytest.approx(expected)


def test_bounds_enclose_every_figure(found):
    table = power_table(found.machine, found.busy_mixes)
    for state in STATES:
        for band in (*(row.watts[state] for row in table.parts), table.wall[state]):
            assert band.low <= band.mid <= band.high
        assert table.wall[state].low < table.wall[state].high


def test_a_part_says_where_its_watts_are_from(found):
    table = power_table(found.machine, found.busy_mixes)
    words = {word for row in table.parts for word in row.source.split(" and ")}
    assert words <= {"class default", "invented", "datasheet", "measured", "stated"}
    assert all(row.source for row in table.parts)


def test_sleeping_drives_by_hand():
    """Four drives of 1.25 W standby and 5.0 W idle each, by the catalog's own rows."""
    found = reference(invented())
    table = power_table(found.machine, found.busy_mixes)
    (drives,) = [r for r in table.parts if r.kind == "hard drive"]
    assert drives.watts["asleep"].mid == pytest.approx(4 * 1.25)
    assert drives.watts["spinning"].mid == pytest.approx(4 * 5.0)
    assert drives.watts["checking"].mid == pytest.approx(4 * 6.2)


def test_the_wall_at_high_figures_is_the_supplys_curve_at_its_high_losses():
    found = reference(invented())
    table = power_table(found.machine, found.busy_mixes)
    part = found.machine.supply
    curve = Supply(
        part.loss_fixed_w.high,
        part.loss_share.high,
        part.loss_square.high,
        part.rated_w.mid,
    )
    expected = wall_w(table.dc["asleep"].high, curve)
    assert table.wall["asleep"].high == pytest.approx(expected)

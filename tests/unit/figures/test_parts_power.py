"""Power by part adds up to the evaluator's own figures, bounds enclose them."""

import pytest

from optibox.catalog.attachment import Controller
from optibox.catalog.storage import SolidStateDrive
from optibox.figures.parts_power import STATES, power_table
from optibox.physics.power import Supply, wall_w
from tests.unit.present.machines import invented, large, reference
from tests.unit.rules.bench import DRIVES, Bench
from tests.unit.rules.cases import SATA_SSD, X4_SLOT


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


def test_pieces_and_bounds_by_hand():
    """Two cache drives of 0.4 to 0.6 W idle and 1 to 3 W writing, a supply of 2 to 4 W.

    Board 30 or 36 W, memory 1, case 2, stick 0.2, three drives of 0.5, 4 or 5 W, all
    without bounds.
    """
    made = Bench(
        parts={
            "ssd": (
                SolidStateDrive,
                {"idle_w": "0.4..0.6", "active_w": "1..3", **SATA_SSD},
            ),
            "supply": {"loss_fixed_w": "2..4"},
        },
        drives=(*DRIVES, ("cache-1", "ssd", "cache"), ("cache-2", "ssd", "cache")),
        wires={"cache-1": {"bay": "2.5-1"}, "cache-2": {"bay": "2.5-2"}},
        operation={"cache": "mirror", "timeout_min": None},
    ).judged()
    table = power_table(made.machine, made.busy_mixes)
    rows = {row.key: row for row in table.parts}
    assert rows["ssd"].count == 2
    for state, ends in (("asleep", (0.8, 1.0, 1.2)), ("writing", (2.0, 4.0, 6.0))):
        band = rows["ssd"].watts[state]
        assert (band.low, band.mid, band.high) == pytest.approx(ends)
    asleep, writing = table.dc["asleep"], table.dc["writing"]
    assert (asleep.low, asleep.high) == pytest.approx((34.7 + 0.8, 34.7 + 1.2))
    # target and parity at work, the third drive idle
    busy = 36 + 3.2 + 5 + 4 + 5
    assert (writing.low, writing.high) == pytest.approx((busy + 2, busy + 6))
    for end, fixed in (("low", 2.0), ("mid", 3.0), ("high", 4.0)):
        dc = getattr(asleep, end)
        expected = dc + fixed + 0.1 * dc + 0.02 * dc**2 / 240
        assert getattr(table.wall["asleep"], end) == pytest.approx(expected)
    loss = 3.0 + 0.1 * asleep.mid + 0.02 * asleep.mid**2 / 240
    assert table.loss_w("asleep") == pytest.approx(loss)
    assert table.deep_idle.high == 0.0


def test_what_a_blocker_costs_has_the_boards_bounds():
    parts = {
        "board": {**X4_SLOT, "deep_idle_loss_w": "2..4"},
        "card": (Controller, {"blocks_deep_idle": "yes"}),
    }
    made = Bench(parts=parts, slots=(("controller-1", "card", "P1"),)).judged()
    deep = power_table(made.machine, made.busy_mixes).deep_idle
    assert (deep.low, deep.mid, deep.high) == (2.0, 3.0, 4.0)


def test_without_a_supply_the_parts_are_all():
    made = Bench(counts={"supply": 0}).judged()
    table = power_table(made.machine, made.busy_mixes)
    assert table.wall == table.dc

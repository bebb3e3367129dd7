"""Finding power trees, against every arrangement and against plain sums."""

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optibox.build import PowerFeed
from optibox.scenario import Factors
from optibox.wiring.amperes import Draw, amperes
from optibox.wiring.loads import Ends, Giver, Load
from optibox.wiring.seat import GaveUpError, seated, seated_feeds
from optibox.wiring.tree import PowerTree
from tests.unit.wiring.plain import amps_below, every_tree, is_sound

FACTORS = Factors()


def lead(name, gives="sata", n=2, most_a=8.0, **more) -> Giver:
    values = {"ohm": 0.03, "has_3v3": gives == "sata", **more}
    return Giver(name=name, gives=gives, n_plugs=n, most_a=most_a, **values)


def piece(name, takes="sata", gives="sata", n=2, most_a=4.5, **more) -> Giver:
    values = {"ohm": 0.015, "has_3v3": True, "key": name.split("#")[0], **more}
    return Giver(
        name=name, takes=takes, gives=gives, n_plugs=n, most_a=most_a, **values
    )


def drive(name, peak=2.0, run=0.4, five=0.6, host="", held=False) -> Load:
    draw = Draw(
        name=name, host=host, run_12v_a=run, rise_12v_a=peak - run, run_5v_a=five
    )
    return Load(name=name, plug="sata", draws=(draw,), held=(name,) if held else ())


def ends(leads, pieces, loads, groups=None) -> Ends:
    return Ends(
        leads=tuple(leads),
        pieces=tuple(pieces),
        loads=tuple(loads),
        groups=groups or {},
        factors=FACTORS,
    )


def drives(n, **more):
    return [drive(f"data-{i}", **more) for i in range(1, n + 1)]


def test_one_sata_plug_carries_two_drives_of_two_amperes_and_no_more():
    """3 pins of 1.5 A (Serial ATA specification, from memory); 2.25 A is half of that."""
    one = [lead("lead-1", n=1)]
    taps = [piece(f"tap#{n}") for n in range(3)]
    assert seated(ends(one, taps, drives(2))) is not None
    assert seated(ends(one, taps, drives(3))) is None
    assert seated(ends(one, taps, drives(2, peak=2.25))) is not None
    assert seated(ends(one, taps, drives(2, peak=2.26))) is None


def test_staggered_hosts_let_more_drives_hang_on_a_plug():
    """Four drives, one of them starting: 4 * 0.4 + 1.6 = 3.2 A; two: 4.8 A."""
    one, taps = [lead("lead-1", n=1)], [piece(f"tap#{n}") for n in range(3)]
    loads = drives(4, host="card")
    assert seated(ends(one, taps, loads, {"card": 1})) is not None
    assert seated(ends(one, taps, loads, {"card": 2})) is None
    # on two hosts one of each can start: 4 * 0.4 + 2 * 1.6 = 4.8 A
    mixed = [drive(f"d-{n}", host=f"card-{n % 2}") for n in range(4)]
    assert seated(ends(one, taps, mixed, {"card-0": 1, "card-1": 1})) is None


def test_four_plugs_are_no_four_wires():
    """A lead of 8 A: four drives of 2.0 A, not four of 2.1 A."""
    assert seated(ends([lead("lead-1", n=4)], [], drives(4))) is not None
    assert seated(ends([lead("lead-1", n=4)], [], drives(4, peak=2.1))) is None


def test_fan_out_alone_decides_nothing():
    """Two drives on a splitter of four are as good as on one of two."""
    found = seated(ends([lead("lead-1", n=1)], [piece("four", n=4)], drives(2)))
    assert found is not None


def test_at_most_two_adapters_in_a_row():
    thin = {"run": 0.1, "peak": 0.1, "five": 0.1}
    one = [lead("lead-1", n=1)]
    chain = [piece(f"ext#{n}", n=1, has_3v3=False) for n in range(1)]
    assert seated(ends(one, chain, drives(1, held=True, **thin))) is not None
    taps = [piece("a", n=2), piece("b", n=2), piece("c", n=1, has_3v3=False)]
    # the clean extension fits behind one splitter, not behind two in a row
    assert seated(ends(one, taps, [*drives(2, **thin), drive("held-1", held=True)]))
    crossing = [
        piece("a", gives="peripheral", n=1),
        piece("b", takes="peripheral", gives="sata", n=1, most_a=8.0),
        piece("c", n=2),
    ]
    assert seated(ends(one, crossing, drives(2, **thin))) is not None
    only = [crossing[0], crossing[1]]
    two = [*only, piece("c", takes="sata", gives="peripheral", n=1)]
    inlet = Load(name="backplane-1", plug="peripheral", draws=drives(1)[0].draws)
    assert seated(ends(one, two, [inlet])) is not None


def test_a_splitter_does_not_bring_3v3_back():
    """Behind an extension without 3.3 V all plugs of a splitter are without it."""
    one = [lead("lead-1", n=1)]
    clean, tap = piece("clean", n=1, has_3v3=False), piece("tap")
    assert seated(ends(one, [tap], drives(2, held=True))) is None
    assert seated(ends(one, [clean, tap], drives(2, held=True))) is not None


def test_moulded_plugs_hang_behind_sata_plugs_alone():
    tap = piece("tap", is_moulded="yes")
    down = piece("down", takes="peripheral", n=1, most_a=8.0, has_3v3=False)
    assert seated(ends([lead("lead-1", n=1)], [tap], drives(2))) is not None
    four_pin = [lead("lead-1", "peripheral", 1)]
    assert seated(ends(four_pin, [down, tap], drives(2))) is None


def test_voltage_is_kept():
    """8 A through 0.075 ohm loses 0.6 V of 12 V, all that is allowed."""
    thin = {"five": 0.1}
    assert seated(ends([lead("lead-1", n=4, ohm=0.074)], [], drives(4, **thin)))
    assert seated(ends([lead("lead-1", n=4, ohm=0.076)], [], drives(4, **thin))) is None


def drawn(seed: int) -> Ends:
    """Return a small question drawn at random."""
    r = random.Random(seed)
    leads = [
        lead(
            f"lead-{n}",
            r.choice(("sata", "sata", "peripheral")),
            r.choice((1, 1, 2)),
            r.choice((8.0, 4.0)),
            has_3v3=False,
            ohm=r.choice((0.03, 0.08)),
        )
        for n in range(1, r.choice((1, 1, 2)) + 1)
    ]
    leads = [
        Giver(
            **{
                **{k: getattr(x, k) for k in Giver.__dataclass_fields__},
                "has_3v3": x.gives == "sata" and r.random() < 0.6,
            }
        )
        for x in leads
    ]
    pieces = [
        piece(
            f"p{n}",
            r.choice(("sata", "sata", "peripheral")),
            r.choice(("sata", "sata", "peripheral")),
            r.choice((1, 2, 2)),
            r.choice((4.5, 4.5, 3.0)),
            has_3v3=r.random() < 0.5,
            is_moulded=r.choice(("no", "no", "yes")),
        )
        for n in range(r.choice((0, 1, 2, 3)))
    ]
    hosts = ("", "one", "two")
    loads = [
        drive(
            f"d-{n}",
            r.choice((0.6, 1.5, 2.2)),
            r.choice((0.3, 0.5)),
            r.choice((0.5, 1.4)),
            r.choice(hosts),
            held=r.random() < 0.2,
        )
        for n in range(r.choice((1, 2, 3)))
    ]
    if r.random() < 0.3:
        behind = tuple(d for x in drives(2, host="one") for d in x.draws)
        loads.append(Load(name="backplane-1", plug="peripheral", draws=behind))
    return ends(leads, pieces, loads, {"one": 1, "two": r.choice((1, 2))})


def compare_with_every_tree(seeds) -> tuple[int, int]:
    """Return how many questions had a tree, and how many none."""
    n_found = n_none = 0
    for seed in seeds:
        asked = drawn(seed)
        found = seated(asked)
        if found is not None:
            assert is_sound(_named(asked, found), found), seed
            n_found += 1
        else:
            trees = every_tree(asked, PowerFeed)
            assert not any(is_sound(asked, tree) for tree in trees), seed
            n_none += 1
    return n_found, n_none


def test_a_tree_is_found_where_there_is_one():
    """Against every arrangement of every choice of adapters."""
    n_found, n_none = compare_with_every_tree(range(60))
    assert n_found > 15
    assert n_none > 15


@pytest.mark.slow
def test_a_tree_is_found_where_there_is_one_many_times():
    n_found, n_none = compare_with_every_tree(range(60, 700))
    assert min(n_found, n_none) > 200


def _named(asked: Ends, feeds) -> Ends:
    """Return the ends with adapters under the names of a tree."""
    left, named = list(asked.pieces), []
    for feed in feeds:
        if feed.key:
            found = next(x for x in left if x.key == feed.key)
            left.remove(found)
            fields = {k: getattr(found, k) for k in Giver.__dataclass_fields__}
            named.append(Giver(**{**fields, "name": feed.load}))
    return ends(asked.leads, named, asked.loads, asked.groups)


@given(seed=st.integers(0, 10_000))
@settings(max_examples=60, deadline=None)
def test_currents_of_every_edge_are_those_of_plain_sums(seed):
    """Whatever the tree breaks, its currents are what hangs below, added up."""
    asked = drawn(seed)
    feeds = seated_feeds(asked)
    tree = PowerTree(ends=_named(asked, feeds), feeds=feeds)
    for edge in tree.edges:
        work, start, five = amps_below(tree.ends, feeds, edge.feed.load)
        assert edge.carries.at_work_12v_a == pytest.approx(work)
        assert edge.carries.at_start_12v_a == pytest.approx(start)
        assert edge.carries.on_5v_a == pytest.approx(five)
    for giver in tree.leads:
        flow = tree.on_lead(giver)
        below = amps_below(tree.ends, feeds, giver.name)
        assert (flow.at_work_12v_a, flow.at_start_12v_a) == pytest.approx(below[:2])


def test_inlets_of_one_backplane_are_one_consumer_on_a_common_edge():
    """Two halves of a drive are one drive, not two that start one after the other."""
    halves = [Draw(name="d", host="c", rise_12v_a=2.0, share=0.5) for _ in range(2)]
    assert amperes(halves, {"c": 1}).at_start_12v_a == pytest.approx(2.0)


def test_what_cannot_be_fed_stays_unfed():
    asked = ends([lead("lead-1", n=1)], [piece("tap")], drives(4))
    feeds = seated_feeds(asked)
    tree = PowerTree(ends=_named(asked, feeds), feeds=feeds)
    assert len(tree.unfed) == 2


def test_a_search_can_be_given_up():
    many = [drive(f"d-{n}", 1.0 + n / 50) for n in range(16)]
    with pytest.raises(GaveUpError):
        seated(ends([lead(f"lead-{n}", n=5) for n in range(4)], [], many), patience=3)

"""Links against published rates, textbook cases and drive-by-drive counting."""

import math
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optibox.physics import links

# Raw lane rates: PCI-SIG, "PCI Express Base Specification" 1.0a to 5.0, as given by
# secondary tables (250/500/985/1969/3938 MB/s) and by GT/s x coding / 8.
PCIE_LANES_MB_S = {1: 250.0, 2: 500.0, 3: 984.615, 4: 1969.231, 5: 3938.462}


@pytest.mark.parametrize(("generation", "expected"), PCIE_LANES_MB_S.items())
def test_pcie_lane_rates_are_the_published_ones(generation, expected):
    assert links.pcie_lane_mb_s(generation) == pytest.approx(expected, abs=1e-3)


@pytest.mark.parametrize("generation", [0, 6])
def test_unknown_pcie_generation_is_refused(generation):
    with pytest.raises(ValueError, match=f"generation {generation} is unknown"):
        links.pcie_lane_mb_s(generation)


# Payload / (payload + overhead): application note AN 456, "PCI Express High
# Performance Reference Design", Throughput for Posted Writes.
@pytest.mark.parametrize(
    ("payload_b", "overhead_b", "expected"),
    [
        (128, 20, 0.86486),
        (128, 24, 0.84211),
        (128, 28, 0.82051),
        (256, 20, 0.92754),
        (256, 24, 0.91429),
        (256, 28, 0.90141),
        (512, 20, 0.96241),
        (512, 24, 0.95522),
        (512, 28, 0.94815),
    ],
)
def test_pcie_packet_efficiency(payload_b, overhead_b, expected):
    share = links.pcie_payload_efficiency(payload_b, overhead_b)
    assert share == pytest.approx(expected, abs=1e-5)


def test_pcie_packet_efficiency_is_the_notes_92_per_cent():
    # AN 456 prints "(256/(256+20)), or 92 %".
    assert math.floor(100 * links.pcie_payload_efficiency(256)) == 92


@pytest.mark.parametrize(
    ("generation", "lanes", "payload_b", "expected"),
    [(2, 1, 128, 432.43), (3, 4, 256, 3653.1)],
)
def test_pcie_payload_rate(generation, lanes, payload_b, expected):
    # Raw rate times the packet formula of AN 456.
    raw_mb_s = links.pcie_link_mb_s(generation, lanes)
    assert raw_mb_s * links.pcie_payload_efficiency(payload_b) == pytest.approx(
        expected, abs=0.5 if lanes > 1 else 0.05
    )


def test_pcie_planning_rate_stays_below_the_packet_bound():
    # The packet formula leaves out acknowledgements and flow control, so a planning
    # rate must lie below it at the common payload of 128 B.
    for generation in PCIE_LANES_MB_S:
        bound = links.pcie_link_mb_s(generation, 2) * links.pcie_payload_efficiency(128)
        assert links.pcie_planning_mb_s(generation, 2) < bound


# 8b/10b payload: SATA-IO "Serial ATA Revision 3.x"; INCITS T10 SAS to SAS-3
# (secondary tables). Planning rates: common practice, no source.
@pytest.mark.parametrize(
    ("gbit_s", "raw", "planning"),
    [(1.5, 150, 137.5), (3, 300, 275), (6, 600, 550), (12, 1200, 1100)],
)
def test_serial_rates(gbit_s, raw, planning):
    assert links.sata_line_mb_s(gbit_s) == pytest.approx(raw)
    assert links.sata_planning_mb_s(gbit_s) == pytest.approx(planning)


def test_four_lanes_of_a_multilane_connector():
    # SFF-8087 carries 4 lanes (encyclopaedia): 4 x 600 MB/s at 6 Gbit/s.
    assert 4 * links.sata_line_mb_s(6) == pytest.approx(2400)


def test_other_serial_rates_are_refused():
    with pytest.raises(ValueError, match=r"22\.5 Gbit/s"):
        links.sata_line_mb_s(22.5)


# Port multipliers: D. Deming, "The Essential Guide to Serial ATA and SATA Express",
# CRC, 2014, section 9.11 (secondary reading): up to 15 devices, the host link's total,
# command-based switching has commands outstanding to one device at a time. The figures
# follow from those three statements.
def test_fis_switching_shares_the_host_link():
    assert links.multiplier_each_mb_s([200] * 5, 300, fis=True) == (60.0,) * 5
    assert links.multiplier_total_mb_s([200] * 5, 300, fis=True) == pytest.approx(300)
    assert links.multiplier_total_mb_s([200, 100], 300, fis=True) == 300


def test_fis_switching_gives_what_the_slow_leave_to_the_fast():
    each = links.multiplier_each_mb_s([200, 40, 200], 300, fis=True)
    assert each == pytest.approx((130, 40, 130))


def test_command_switching_is_the_harmonic_mean():
    total = links.multiplier_total_mb_s([200, 100], 300, fis=False)
    assert total == pytest.approx(133.33, abs=0.01)
    each = links.multiplier_each_mb_s([200, 100], 300, fis=False)
    assert each == pytest.approx((66.667, 66.667), abs=0.001)


def test_at_most_fifteen_drives():
    assert len(links.multiplier_each_mb_s([100] * 15, 300, fis=True)) == 15
    for fis in (True, False):
        with pytest.raises(ValueError, match="16 drives"):
            links.multiplier_total_mb_s([100] * 16, 300, fis=fis)


def test_multiplier_edge_cases():
    assert links.multiplier_each_mb_s([], 300, fis=False) == ()
    assert links.multiplier_each_mb_s([], 300, fis=True) == ()
    assert links.multiplier_each_mb_s([100, 0], 300, fis=False) == (0.0, 0.0)
    assert links.multiplier_total_mb_s([400], 300, fis=False) == pytest.approx(300)


def test_one_drive_alone_behind_a_multiplier():
    # 180 MB/s on a plain port, about 150 behind a multiplier: common practice, no
    # source.
    behind = links.multiplier_single_mb_s(180, links.MULTIPLIER_SHARED_MB_S)
    assert behind == pytest.approx(150, rel=0.1)
    assert links.multiplier_single_mb_s(180, 100) == 100


@given(
    st.lists(st.floats(1, 600), min_size=1, max_size=15),
    st.floats(50, 600),
    st.booleans(),
)
@settings(deadline=None)
def test_no_multiplier_beats_its_host_link_or_its_drives(rates, host, fis):
    each = links.multiplier_each_mb_s(rates, host, fis=fis)
    total = links.multiplier_total_mb_s(rates, host, fis=fis)
    assert total <= host * (1 + 1e-9)
    assert all(got <= own * (1 + 1e-9) for got, own in zip(each, rates, strict=True))
    if fis:
        assert total == pytest.approx(min(sum(rates), host))
    else:
        assert total <= max(rates) * (1 + 1e-9)


# Ethernet payload: IEEE 802.3 frame and gap; percentages as printed in a network
# wiki (94.9285, 94.1482, 93.6281, 92.8479 at 1500 B).
@pytest.mark.parametrize(
    ("mtu_b", "header_b", "share"),
    [
        (1500, 40, 0.949285),
        (1500, 52, 0.941482),
        (1500, 60, 0.936281),
        (1500, 72, 0.928479),
        (9000, 40, 0.991370),
        (9000, 52, 0.990042),
    ],
)
@pytest.mark.parametrize("gbit_s", [1.0, 2.5, 10.0])
def test_ethernet_payload(gbit_s, mtu_b, header_b, share):
    rate = links.ethernet_payload_mb_s(gbit_s, mtu_b, header_b)
    assert rate == pytest.approx(gbit_s * 125 * share, rel=1e-6)


def test_the_familiar_941_mbit():
    assert links.ethernet_payload_mb_s(1.0) == pytest.approx(117.685, abs=1e-3)


def test_vlan_tag_makes_the_frame_42_bytes_longer_than_its_payload():
    tagged = links.ethernet_payload_mb_s(1.0, vlan=True)
    assert tagged == pytest.approx(125 * 1448 / 1542)


def test_network_file_rate_is_the_share_of_the_payload():
    # A gigabit link moves large files at 105-115 MB/s: common practice, no source.
    assert 105 <= links.network_file_mb_s(1.0) <= 115
    assert links.network_file_mb_s(10.0, 1.0, 9000) == pytest.approx(1237.553, abs=1e-3)


def test_small_files():
    # 1000 files of 1 MB at 100 MB/s take 10 s and 1000 x 5 ms of overhead.
    assert links.small_file_mb_s(1.0, 100.0, 0.005) == pytest.approx(1000 / 15)
    assert links.small_file_mb_s(0.0, 100.0, 0.005) == 0.0
    assert links.small_file_mb_s(1.0, 100.0, 0.0) == pytest.approx(100)


def brute_moves(data_links, parity_links, link, mode):
    """Count chunk by chunk what one write moves over a link, worst target."""
    ups, downs = [], []
    for target in range(len(data_links)):
        if mode == "modify":
            read = [data_links[target], *parity_links]
        else:
            read = [d for i, d in enumerate(data_links) if i != target]
        written = [data_links[target], *parity_links]
        ups.append(read.count(link))
        downs.append(written.count(link))
    return max(ups), max(downs)


@pytest.mark.parametrize("n_parity", [1, 2])
@pytest.mark.parametrize("n_data", [1, 2, 3, 4])
def test_writes_against_counting_every_chunk(n_data, n_parity):
    # Additive and subtractive parity as defined by R. and A. Arpaci-Dusseau,
    # "Operating Systems: Three Easy Pieces", RAID chapter; here by enumeration.
    for places in product((0, 1), repeat=n_data + n_parity):
        data, parity = places[:n_data], places[n_data:]
        members = links.LinkMembers(data.count(1), parity.count(1), n_data, n_parity)
        assert links.moved_read_modify_write(members) == brute_moves(
            data, parity, 1, "modify"
        )
        assert links.moved_reconstruct_write(members) == brute_moves(
            data, parity, 1, "rebuild"
        )


@pytest.mark.parametrize("n_data", [1, 2, 3])
def test_degraded_read_against_counting_survivors(n_data):
    for places in product((0, 1), repeat=n_data + 1):
        data = places[:n_data]
        members = links.LinkMembers(data.count(1), places[-1], n_data, 1)
        worst = max(places.count(1) - data[failed] for failed in range(n_data))
        assert links.moved_degraded_read(members) == (worst, 0)


def test_one_data_drive_reads_nothing_in_a_reconstruct_write():
    assert links.moved_reconstruct_write(links.LinkMembers(1, 1, 1, 1)) == (0, 2)


def test_without_parity_a_write_is_plain():
    members = links.LinkMembers(1, 0, 3, 0)
    for moved in (
        links.moved_plain_write,
        links.moved_read_modify_write,
        links.moved_reconstruct_write,
    ):
        assert moved(members) == (0, 1)
    assert links.moved_plain_write(links.LinkMembers(0, 0, 3, 0)) == (0, 0)
    with pytest.raises(ValueError, match="Without a parity drive"):
        links.moved_degraded_read(members)


def test_small_write_moves_four_chunks_in_all():
    # "4 physical I/Os (two reads and two writes)": Arpaci-Dusseau, RAID chapter.
    assert sum(links.moved_read_modify_write(links.LinkMembers(4, 1, 4, 1))) == 4


def test_striped_moves_add_up_over_the_links():
    # Sequential RAID-5 writes move n chunks for n - 1 of user data, reads one each
    # (Arpaci-Dusseau, RAID chapter), however the drives are spread over links.
    here, there = links.LinkMembers(3, 0, 6, 2), links.LinkMembers(3, 2, 6, 2)
    writes = links.added(
        links.moved_stripe_write(here), links.moved_stripe_write(there)
    )
    reads = links.added(links.moved_stripe_read(here), links.moved_stripe_read(there))
    assert writes == pytest.approx((0, 8 / 6))
    assert reads == pytest.approx((1, 0))
    assert links.moved_stripe_degraded_read(here) == pytest.approx((3 / 6, 0))


def test_the_simple_moves():
    assert links.moved_network_receive() == (1, 0)
    assert links.moved_network_send() == (0, 1)
    assert links.moved_independent_read(links.LinkMembers(0, 1, 2, 1)) == (0, 0)
    assert links.moved_pairs_write(2) == (0, 2)
    assert links.moved_pairs_read(0.5) == (0.5, 0)
    assert links.moved_cache_ingest(2) == (0, 2)
    assert links.moved_flush_read(0) == (0, 0)
    assert links.moved_check(5) == (5, 0)
    assert links.moved_check(4, 1) == (4, 1)


@pytest.mark.parametrize(
    "counts", [(3, 0, 2, 1), (-1, 0, 2, 1), (0, 2, 2, 1), (0, 0, 0, 1)]
)
def test_contradicting_members_are_refused(counts):
    with pytest.raises(ValueError, match="drives on a link"):
        links.LinkMembers(*counts)


def test_link_rate_by_duplex():
    assert links.link_rate_mb_s(550, 1, 2) == 275
    assert links.link_rate_mb_s(600, 1, 2, half_duplex=True) == 200
    assert links.link_rate_mb_s(550, 0, 0) == math.inf


def test_a_shared_uplink_can_make_reconstruct_slower_than_read_modify_write():
    # Four data drives and parity behind one Gen2 x1 card: which mode wins depends on
    # the wiring (common practice, no source). Drive at 180 MB/s near empty.
    members = links.LinkMembers(4, 1, 4, 1)
    uplink = links.pcie_planning_mb_s(2, 1)
    modify = links.link_rate_mb_s(uplink, *links.moved_read_modify_write(members))
    rebuild = links.link_rate_mb_s(uplink, *links.moved_reconstruct_write(members))
    assert modify > rebuild
    wide = links.pcie_planning_mb_s(2, 4)
    assert links.link_rate_mb_s(wide, *links.moved_reconstruct_write(members)) > 180


def test_binding_names_the_slowest_and_the_next():
    stages = [links.Stage("drive", 180), links.Stage("net", 106), links.Stage("l", 425)]
    found = links.binding(stages)
    assert (found.binding.name, found.next.name) == ("net", "drive")
    assert found.slack_mb_s == 74
    assert found.rate_mb_s == 106


def test_binding_edge_cases():
    alone = links.binding([links.Stage("net", 106)])
    assert alone.next is None
    assert alone.slack_mb_s == math.inf
    free = links.binding([links.Stage("a", math.inf), links.Stage("b", math.inf)])
    assert free.binding.name == "a"
    assert free.slack_mb_s == 0
    with pytest.raises(ValueError, match="at least one"):
        links.binding([])

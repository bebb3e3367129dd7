"""Cell notations: what is written reads back as the same records."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optibox.catalog.columns import Figure, as_figure, figure_from_text, number_text
from optibox.catalog.notation import (
    CONNECTOR_LANES,
    M2_LENGTHS_MM,
    Connectors,
    Lead,
    SharingRule,
    Slot,
    box_from_text,
    connectors_from_text,
    connectors_to_text,
    leads_from_text,
    leads_to_text,
    sharing_from_text,
    sharing_to_text,
    slots_from_text,
    slots_to_text,
)

NAMES = st.from_regex(r"[A-Za-z0-9][A-Za-z0-9_.-]{0,5}", fullmatch=True)
LANES = st.sampled_from((1, 2, 4, 8, 16))
COMMON = {
    "name": NAMES,
    "mechanical_lanes": LANES,
    "lanes": LANES,
    "generation": st.integers(1, 6),
    "uplink": st.sampled_from(("cpu", "chipset")),
    "is_open_ended": st.booleans(),
    "can_bifurcate": st.booleans(),
}


def _possible(slot):
    return slot.lanes <= slot.mechanical_lanes


CARDS = st.builds(Slot, form=st.just("pcie"), **COMMON).filter(_possible)
MODULES = st.builds(
    Slot,
    form=st.just("m2"),
    key=st.sampled_from("BM"),
    length_mm=st.sampled_from(M2_LENGTHS_MM),
    modes=st.sets(st.sampled_from(("nvme", "sata")), min_size=1).map(frozenset),
    **COMMON,
).filter(_possible)
MODES = st.sampled_from(("", "sata", "nvme"))
PORT_RULES = st.builds(
    SharingRule, slot=NAMES, mode=MODES, ports_lost=st.integers(0, 20)
)
SLOT_RULES = st.builds(
    SharingRule,
    slot=NAMES,
    mode=MODES,
    other_slot=NAMES,
    other_lanes=st.sampled_from((0, 1, 2, 4, 8)),
)
FINITE = st.floats(allow_nan=False, allow_infinity=False)


@given(st.lists(CARDS | MODULES, max_size=6, unique_by=lambda slot: slot.name))
def test_slots_read_back(slots):
    assert slots_from_text(slots_to_text(slots)) == tuple(slots)


@given(st.lists(PORT_RULES | SLOT_RULES, max_size=6))
def test_sharing_rules_read_back(rules):
    assert sharing_from_text(sharing_to_text(rules)) == tuple(rules)


@given(
    st.builds(
        Connectors,
        count=st.integers(1, 99),
        connector=st.sampled_from(sorted(CONNECTOR_LANES)),
    )
)
def test_connectors_read_back(connectors):
    assert connectors_from_text(connectors_to_text(connectors)) == connectors


@given(
    st.lists(
        st.builds(
            Lead, plug=st.sampled_from(("sata", "peripheral")), count=st.integers(1, 9)
        )
    )
)
def test_leads_read_back(leads):
    assert leads_from_text(leads_to_text(leads)) == tuple(leads)


@given(FINITE)
def test_numbers_read_back_exactly(value):
    assert float(number_text(value)) == value


@given(st.tuples(FINITE, FINITE, FINITE).map(sorted))
def test_figures_read_back_exactly(ends):
    figure = Figure(*ends)
    assert figure_from_text(str(figure)) == figure
    assert as_figure(str(figure)) == figure


def test_defaults_of_a_module_socket():
    (slot,) = slots_from_text("M1 m2 gen3 cpu")
    assert (slot.lanes, slot.key, slot.length_mm) == (4, "M", 80)
    assert slot.modes == {"nvme"}


@pytest.mark.parametrize(
    "text",
    [
        "P1",
        "P1 x4 gen3",
        "P1 x4 gen3 cpu usb",
        "P1 x4 gen3 cpu chipset",
        "P/1 x4 gen3 cpu",
        "M1 m2 gen3 cpu sata+usb",
        "M1 m2 2299 gen3 cpu",
        "P1 x4 gen3 cpu | P1 x1 gen3 cpu",
        "P1 x4@16 gen3 cpu",
        "P1 x9999 gen3 cpu",
    ],
)
def test_slots_that_are_refused(text):
    with pytest.raises(ValueError, match="expected"):
        slots_from_text(text)


@pytest.mark.parametrize("text", ["", "sata", "0 sata", "2 sas", "2 sata | 2 sata"])
def test_connectors_that_are_refused(text):
    with pytest.raises(ValueError, match="expected a count"):
        connectors_from_text(text)


@pytest.mark.parametrize("text", ["sata", "sata 0", "molex 2", "3 sata"])
def test_leads_that_are_refused(text):
    with pytest.raises(ValueError, match="expected 'sata 3'"):
        leads_from_text(text)


def test_a_box_adds_up():
    assert box_from_text("a x2 | b | a") == {"a": 3, "b": 1}
    with pytest.raises(ValueError, match="expected a part id"):
        box_from_text("a 2")

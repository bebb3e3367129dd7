"""Whatever stands in a build file: a check, or messages; never a traceback."""

import random
from contextlib import suppress
from functools import cache

import pytest
import tomli_w
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from optibox.build.store import build_text
from optibox.catalog.kinds import KIND_BY_NAME
from optibox.catalog.locate import shipped_catalogs
from optibox.catalog.read import read_catalog
from optibox.completion.mending import mends_of
from optibox.completion.opening import Question, open_build
from optibox.errors import InputError
from optibox.report.as_csv import as_csv
from optibox.report.as_json import as_json
from optibox.report.check import CheckAnswer
from optibox.report.check_facts import CheckReport
from optibox.report.text import as_text
from tests.support.mutations import mutated
from tests.unit.present.machines import large_build, reference_build

NOT_SLOW = settings(
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
    deadline=None,
)


@cache
def catalog():
    return read_catalog([shipped_catalogs()["invented"]])


def said_about(path):
    """Return all that a check prints, or the messages of what was refused."""
    try:
        opened = open_build(path, Question(catalog=catalog()))
    except InputError as error:
        told = [str(fault) for fault in error.faults]
    else:
        told = []
    if told:
        assert all(told)
        return "\n".join(told)
    report = CheckReport(name="x", completion=opened.completion, currency="EUR")
    answer = CheckAnswer(report=report)
    document = answer.document()
    return as_text(document, 80) + as_json(answer.to_dict()) + as_csv(document.data)


SCALARS = st.one_of(
    st.integers(-3, 40),
    st.floats(allow_nan=False, allow_infinity=False, width=16),
    st.booleans(),
    st.sampled_from(
        ["", "board", "3.5-1", "2.5-9", "P1", "M1", "never", "data", "cache", "boot"]
    ),
    st.text(st.characters(codec="utf-8", exclude_categories=("C",)), max_size=6),
)
VALUES = st.recursive(
    SCALARS,
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(
            st.sampled_from(["id", "kind", "count", "drives"]), inner, max_size=3
        )
    ),
    max_leaves=5,
)
KEYS = st.sampled_from(
    [
        "format", "name", "catalogs", "owned", "parts", "wiring", "operation", "around",
        "items", "drives", "slots", "id", "layout", "x",
    ]
)  # fmt: skip


@NOT_SLOW
@given(table=st.dictionaries(KEYS, VALUES, max_size=6))
def test_any_table(tmp_path, table):
    path = tmp_path / "build.toml"
    with suppress(TypeError, ValueError):  # lists of mixed sorts are no TOML everywhere
        path.write_text(tomli_w.dumps(table), encoding="utf-8")
        said_about(path)


@st.composite
def hand_builds(draw):
    """Draw parts of the shipped catalog at random, and wiring that may lead anywhere."""
    ids = [part.id for part in catalog().parts]
    parts = []
    for kind in draw(st.lists(st.sampled_from(sorted(KIND_BY_NAME)), max_size=12)):
        offers = [p.id for p in catalog().parts if p.kind == kind] or ids
        entry = {"id": draw(st.sampled_from(offers))}
        for key, values in _USES.items():
            if draw(st.integers(0, 4)) == 0:
                entry[key] = draw(values)
        parts.append(entry)
    names = st.sampled_from(
        [
            "data-1",
            "parity-1",
            "drive-1",
            "drive-2",
            "ssd-1",
            "boot-1",
            "cache-1",
            "left",
        ]
    )
    wiring = draw(
        st.lists(
            st.fixed_dictionaries(
                {"drives": names},
                optional={
                    "bay": st.sampled_from(
                        ["3.5-1", "3.5-2", "2.5-1", "3.5-99", "odd", ""]
                    ),
                    "host": st.sampled_from(["board", "controller-1", "network-1"]),
                    "connector": st.integers(1, 9),
                    "port": st.integers(1, 9),
                    "cable": st.sampled_from(ids),
                },
            ),
            max_size=3,
        )
    )
    table = {"parts": parts, "wiring": wiring, "operation": draw(_OPERATIONS)}
    if draw(st.booleans()):
        table["owned"] = True
    return table


_USES = {
    "count": st.integers(1, 9),
    "role": st.sampled_from(["data", "parity", "cache", "boot"]),
    "slot": st.sampled_from(["P1", "P2", "M1", "riser-1.1", "nowhere"]),
    "name": st.sampled_from(["left", "board", "data-1", "controller-1"]),
    "owned": st.booleans(),
    "spare": st.booleans(),
    "pending_sectors": st.integers(0, 9),
}
_OPERATIONS = st.fixed_dictionaries(
    {},
    optional={
        "layout": st.sampled_from(["independent", "striped", "pairs", "striped pairs"]),
        "n_parity": st.integers(0, 2),
        "write_mode": st.sampled_from(["plain", "reconstruct", "read-modify-write"]),
        "cache": st.sampled_from(["none", "single", "mirror"]),
        "timeout_min": st.sampled_from([5, 30, "never"]),
    },
)


@NOT_SLOW
@given(table=hand_builds())
def test_any_parts_and_wiring(tmp_path, table):
    path = tmp_path / "build.toml"
    path.write_text(tomli_w.dumps(table), encoding="utf-8")
    assert said_about(path)


@settings(NOT_SLOW, max_examples=8)
@given(table=hand_builds())
def test_mending_never_breaks(tmp_path, table):
    path = tmp_path / "build.toml"
    path.write_text(tomli_w.dumps(table), encoding="utf-8")
    with suppress(InputError):
        opened = open_build(path, Question(catalog=catalog()))
        found = opened.completion.assessment
        for finding, mend in mends_of(found, catalog()).items():
            assert finding in found.findings
            assert mend.price >= 0


@pytest.mark.parametrize(
    "text",
    ["", "format = 1", "parts = 3", "[[parts]]", "parts = []", "[[parts]]\nid = 4"],
)
def test_next_to_nothing(tmp_path, text):
    path = tmp_path / "build.toml"
    path.write_text(text, encoding="utf-8")
    assert "build.toml" in said_about(path)


@pytest.mark.parametrize("seed", range(16))
def test_saved_builds_with_things_changed(tmp_path, seed):
    """Up to six things changed in a machine that works, saved and checked."""
    source = random.Random(seed)
    build = reference_build(catalog()) if seed % 2 else large_build(catalog())
    for _ in range(source.randint(1, 6)):
        build = mutated(build, source)
    path = tmp_path / "build.toml"
    path.write_text(build_text(build, "a test"), encoding="utf-8")
    assert said_about(path)

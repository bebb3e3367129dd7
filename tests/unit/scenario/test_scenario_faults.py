"""Malformed scenarios: each fault at its place, all at once, never a traceback."""

import tomllib

import pytest
import tomli_w
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from optibox.errors import ScenarioError
from optibox.scenario import Scenario, read_scenario

GOOD = """\
catalogs = ["small"]
[needs]
usable_tb = 12
failures_survived = 1
[money]
tariff_per_kwh = 0.32
"""
DRIVES = "id,class,tb,price\nhdd-4,3.5in 5400,4,85\nhdd-8,3.5in 5400,8,150\n"


@pytest.fixture
def folder(tmp_path):
    return small_catalog(tmp_path)


def small_catalog(folder):
    small = folder / "small"
    small.mkdir()
    (small / "catalog.toml").write_text('currency = "EUR"\n')
    (small / "hard-drive.csv").write_text(DRIVES)
    return folder


def faults_of(folder, text, *settings):
    path = folder / "s.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ScenarioError) as caught:
        read_scenario(path, settings)
    return caught.value.faults


def with_lines(lines, section=""):
    """Return the good scenario with lines added to a section or at its end."""
    if not section:
        return GOOD + lines + "\n"
    if section == "top":
        return lines + "\n" + GOOD
    return GOOD.replace(f"[{section}]\n", f"[{section}]\n{lines}\n")


BAND = "[[money.bands]]\nfrom_hour = {}\nto_hour = {}\nprice_per_kwh = 0.2"
CASES = {
    "unknown key": (with_lines("read_mbs = 8", "needs"), 3, "needs.read_mbs"),
    "key of the file": (with_lines('messured = "m"', "top"), 1, "messured"),
    "unknown section": (with_lines("[need]"), 7, "need"),
    "key of another section": (with_lines("years = 5", "needs"), 3, "needs.years"),
    "key without section": (with_lines("budget = 5", "top"), 1, "budget"),
    "number as text": (GOOD.replace("= 12", '= "12 TB"'), 3, "needs.usable_tb"),
    "yes as number": (GOOD.replace("= 12", "= true"), 3, "needs.usable_tb"),
    "gigabytes": (GOOD.replace("= 12", "= 12000"), 3, "needs.usable_tb"),
    "negative": (GOOD.replace("= 12", "= -1"), 3, "needs.usable_tb"),
    "no number": (GOOD.replace("= 12", "= nan"), 3, "needs.usable_tb"),
    "endless integer": (
        GOOD.replace("= 12", "= 1" + "0" * 400),
        3,
        "needs.usable_tb",
    ),
    "endless factor": (
        with_lines("[overrides]\npcie = 1" + "0" * 400),
        8,
        "overrides.pcie",
    ),
    "endless tb": (
        with_lines('[[owned]]\nid = "hdd-4"\ntb = 1' + "0" * 400),
        9,
        "owned[0].tb",
    ),
    "endless": (GOOD.replace("= 12", "= inf"), 3, "needs.usable_tb"),
    "both capacities": (with_lines("usable_tib = 9", "needs"), 3, "needs.usable_tib"),
    "no capacity": (GOOD.replace("usable_tb = 12\n", ""), 2, "needs.usable_tb"),
    "percent": (with_lines("fill_fraction = 50", "needs"), 3, "needs.fill_fraction"),
    "failures": (
        GOOD.replace("survived = 1", "survived = 3"),
        4,
        "needs.failures_survived",
    ),
    "half a count": (
        with_lines("[limits]\narray_drives = 4.5"),
        8,
        "limits.array_drives",
    ),
    "yes in quotes": (with_lines('ecc = "yes"', "needs"), 3, "needs.ecc"),
    "medium": (
        with_lines('other_end_medium = "rj45"', "needs"),
        3,
        "needs.other_end_medium",
    ),
    "rate beyond the port": (
        with_lines("read_mb_s = 200\nother_end_gbit_s = 1", "needs"),
        3,
        "needs.read_mb_s",
    ),
    "burst beyond all files": (
        with_lines("burst_gb = 90000", "needs"),
        3,
        "needs.burst_gb",
    ),
    "burst beyond a day": (
        with_lines("burst_gb = 9000\ningest_mb_s = 10", "needs"),
        3,
        "needs.burst_gb",
    ),
    "ingest beyond all files": (
        with_lines("[usage]\ningest_gb_per_day = 12001"),
        8,
        "usage.ingest_gb_per_day",
    ),
    "tariff in cents": (GOOD.replace("0.32", "32"), 6, "money.tariff_per_kwh"),
    "no tariff": (
        GOOD.replace("tariff_per_kwh = 0.32\n", ""),
        5,
        "money.tariff_per_kwh",
    ),
    "bands with a gap": (
        GOOD.replace("tariff_per_kwh = 0.32\n", "") + BAND.format(0, 23),
        6,
        "money.bands",
    ),
    "band without end": (GOOD + BAND.format(7, 7), 9, "money.bands[0].to_hour"),
    "band of half hours": (GOOD + BAND.format(7.5, 9), 8, "money.bands[0].from_hour"),
    "band outside the day": (GOOD + BAND.format(7, 25), 9, "money.bands[0].to_hour"),
    "band without price": (
        GOOD + "[[money.bands]]\nfrom_hour = 1\nto_hour = 2\n",
        7,
        "money.bands[0].price_per_kwh",
    ),
    "term": (with_lines('terms = ["energie"]', "money"), 6, "money.terms[0]"),
    "text for a list": (
        with_lines('[choices]\nlayouts = "pairs"'),
        8,
        "choices.layouts",
    ),
    "layout": (with_lines('[choices]\nlayouts = ["pair"]'), 8, "choices.layouts[0]"),
    "no layout": (with_lines("[choices]\nlayouts = []"), 8, "choices.layouts"),
    "pairs survive one": (
        with_lines('[choices]\nlayouts = ["pairs"]').replace(
            "survived = 1", "survived = 2"
        ),
        8,
        "choices.layouts",
    ),
    "mode without layout": (
        with_lines('[choices]\nlayouts = ["pairs"]\nwrite_modes = ["reconstruct"]'),
        9,
        "choices.write_modes",
    ),
    "single cache": (with_lines('[choices]\ncaches = ["single"]'), 8, "choices.caches"),
    "neither stop nor go on": (
        with_lines("[choices]\ntimeouts_min = []\nallow_never = false"),
        8,
        "choices.timeouts_min",
    ),
    "factor": (with_lines("[overrides]\npice = 0.8"), 8, "overrides.pice"),
    "factor in percent": (with_lines("[overrides]\npcie = 85"), 8, "overrides.pcie"),
    "factor as words": (with_lines('[overrides]\npcie = "much"'), 8, "overrides.pcie"),
    "section as number": (with_lines("usage = 5", "top"), 1, "usage"),
    "catalog": (GOOD.replace("small", "smal"), 0, ""),
    "no catalogs": (GOOD.replace('["small"]', "[]"), 1, "catalogs"),
    "catalogs as text": (GOOD.replace('["small"]', '"small"'), 1, "catalogs"),
    "owned id": (with_lines('[[owned]]\nid = "hdd-44"'), 8, "owned[0].id"),
    "owned without name": (with_lines("[[owned]]\ncount = 2"), 7, "owned[0]"),
    "owned as table": (with_lines('[owned]\nid = "hdd-4"'), 7, "owned"),
    "owned twice named": (
        with_lines(
            '[[owned]]\nkind = "hard drive"\nclass = "3.5in 5400"\ntb=4\nid = "hdd-4"'
        ),
        11,
        "owned[0].id",
    ),
    "kind": (with_lines('[[owned]]\nkind = "disc"'), 8, "owned[0].kind"),
    "class": (
        with_lines('[[owned]]\nkind = "hard drive"\nclass = "5400"\ntb = 4'),
        9,
        "owned[0].class",
    ),
    "absurd drive": (
        with_lines('[[owned]]\nkind = "hard drive"\nclass = "3.5in 5400"\ntb = 4000'),
        10,
        "owned[0].tb",
    ),
    "missing cell": (
        with_lines('[[owned]]\nkind = "hard drive"\nclass = "3.5in 5400"'),
        7,
        "owned[0].tb",
    ),
    "history": (with_lines('[[owned]]\nid = "hdd-4"\nhour = 5'), 9, "owned[0].hour"),
    "history value": (
        with_lines('[[owned]]\nid = "hdd-4"\nhours = -5'),
        9,
        "owned[0].hours",
    ),
    "own figure": (
        with_lines('[[owned]]\nid = "hdd-4"\nidle_w = "x"'),
        9,
        "owned[0].idle_w",
    ),
    "own class": (
        with_lines('[[owned]]\nid = "hdd-4"\nclass = "x"'),
        9,
        "owned[0].class",
    ),
    "part without price": (
        with_lines('[[parts]]\nkind = "hard drive"\nclass = "3.5in 5400"\ntb = 4'),
        7,
        "parts[0].price",
    ),
    "unpriced drive, nothing alike": (
        with_lines('[[owned]]\nkind = "solid-state drive"\nclass = "sata ssd"\ntb = 1'),
        7,
        "owned[0].replacement_price",
    ),
    "own table": (
        with_lines('[[owned]]\nid = "hdd-4"\nidle_w = {a = 1}'),
        9,
        "owned[0].idle_w",
    ),
    "owned entry": (with_lines("owned = [5]", "top"), 1, "owned[0]"),
    "ingest beyond the port": (
        with_lines("other_end_gbit_s = 0.1", "needs")
        + "[usage]\ningest_gb_per_day = 1081\n",
        9,
        "usage.ingest_gb_per_day",
    ),
    "percent in quotes": (
        with_lines('fill_fraction = "50 %"', "needs"),
        3,
        "needs.fill_fraction",
    ),
    "gigabytes in quotes": (GOOD.replace("= 12", '= "12000 GB"'), 3, "needs.usable_tb"),
    "ban": (with_lines('ban = ["hdd-9"]', "top"), 1, "ban[0]"),
    "ban of a class": (with_lines('ban = ["class:hdd"]', "top"), 1, "ban[0]"),
    "ban of a feature": (with_lines('ban = ["feature:shingle"]', "top"), 1, "ban[0]"),
    "ban by something": (with_lines('ban = ["maker:x"]', "top"), 1, "ban[0]"),
    "insist": (with_lines('insist = ["hdd-9"]', "top"), 1, "insist[0]"),
    "insist on what is banned": (
        with_lines('ban = ["hdd-*"]\ninsist = ["hdd-4"]', "top"),
        2,
        "insist[0]",
    ),
    "spare": (with_lines('[[spares]]\nid = "hdd-9"'), 8, "spares[0].id"),
    "measured": (with_lines("measured = 5", "top"), 1, "measured"),
    "format": (with_lines("format = 2", "top"), 1, "format"),
    "not TOML": (GOOD + "years = 5,5\n", 7, ""),
}


@pytest.mark.parametrize("name", CASES)
def test_fault_is_told_at_its_place(folder, name):
    text, line, field = CASES[name]
    (fault,) = faults_of(folder, text)
    assert (fault.line, fault.field) == (line, field)
    assert fault.problem
    assert fault.remedy.endswith((".", "?"))
    if field:
        assert fault.path == str(folder / "s.toml")


TEXTS = {
    "gigabytes": "'12000' is outside the believable range; expected 0.01 to 1000 TB. "
    "That looks like GB: write usable_tb = 12.",
    "number as text": "'12 TB' is text; expected a number of TB. "
    "Write usable_tb = 12, without quotes and unit.",
    "absurd drive": "'4000' is outside the believable range; expected 0.001 to 100 TB. "
    "That looks like GB: write tb = 4.",
    "percent in quotes": "'50 %' is text; expected a number. Write fill_fraction = 0.5.",
    "gigabytes in quotes": "'12000 GB' is text; expected a number of TB. "
    "Write usable_tb = 12, without quotes and unit.",
    "percent": "'50' is outside the believable range; expected 0 to 1. "
    "For 50 % write fill_fraction = 0.5.",
    "key of another section": "is not a key of [needs]. It belongs in [money].",
    "owned id": "'hdd-44' is the id of no part in the catalogs. Did you mean 'hdd-4'?",
    "both capacities": "stands beside usable_tb; expected one of the two. "
    "Delete one of the lines.",
    "bands with a gap": "leave hours without a price, the first on Monday at 23:00. "
    "Give tariff_per_kwh for the hours outside all bands.",
    "rate beyond the port": "'200' is more than the other end can carry: a port of "
    "1 Gb/s moves at most 125 MB/s. Lower it, or raise needs.other_end_gbit_s if that "
    "port is faster.",
}


@pytest.mark.parametrize("name", TEXTS)
def test_fault_in_full(folder, name):
    text, line, field = CASES[name]
    (fault,) = faults_of(folder, text)
    assert str(fault) == f"{folder}/s.toml, line {line}, {field}: {TEXTS[name]}"


def test_all_faults_of_all_files_at_once(folder):
    (folder / "small" / "hard-drive.csv").write_text(DRIVES + "hdd-9,3.5in 5400,9,x\n")
    text = with_lines("read_mbs = 8\nfill_fraction = 50", "needs")
    faults = faults_of(folder, text, "money.yeers=5", "oops")
    assert {(f.path.rpartition("/")[2], f.field) for f in faults} == {
        ("hard-drive.csv", "price"),
        ("s.toml", "needs.read_mbs"),
        ("s.toml", "needs.fill_fraction"),
        ("--set", "money.yeers"),
        ("--set", "oops"),
    }


def test_empty_scenario_asks_for_needs_and_money(tmp_path):
    fields = [fault.field for fault in faults_of(tmp_path, "")]
    assert fields == ["money", "needs"]


SETTINGS = {
    "needs.usable_tb": "needs.usable_tb",
    "=5": "",
    "needs..x=5": "needs..x",
    "needs.usable_tb=16 TB": "needs.usable_tb",
    "needs.usable_tb.x=1": "needs.usable_tb.x",
    "owned[0].count=1": "owned[0].count",
    "needs[0]=1": "needs[0]",
    "needs.foo=1": "needs.foo",
    "needs=5": "needs",
    "name=\udcff": "name",
    "choices.aim=cheap": "choices.aim",
}


@pytest.mark.parametrize("setting", SETTINGS)
def test_fault_of_a_setting_names_the_setting(folder, setting):
    faults = faults_of(folder, GOOD, setting)
    assert {(fault.path, fault.field) for fault in faults} == {
        ("--set", SETTINGS[setting])
    }
    assert all(fault.line == 0 for fault in faults)


def test_setting_cannot_smuggle_in_other_keys(folder):
    scenario = read_with(folder, "name=1\nmoney.years = 9")
    assert scenario.money.years == 5


def read_with(folder, *settings):
    (folder / "s.toml").write_text(GOOD)
    return read_scenario(folder / "s.toml", settings)[0]


def test_missing_and_unreadable_files(tmp_path):
    for path in (tmp_path / "none.toml", tmp_path):
        with pytest.raises(ScenarioError):
            read_scenario(path)
    (tmp_path / "s.toml").write_bytes(b"name = '\xe4'")
    with pytest.raises(ScenarioError, match="line 1: holds the byte 0xe4"):
        read_scenario(tmp_path / "s.toml")


MEASURED = {
    "factor": ("[factors]\npice = 1\n", 2, "factors.pice"),
    "range": ("[factors]\npcie = 85\n", 2, "factors.pcie"),
    "part": ("[parts.hdd-9]\nidle_w = 1\n", 1, "parts.hdd-9"),
    "column": ("[parts.hdd-4]\nidle = 1\n", 2, "parts.hdd-4.idle"),
    "value": ("[parts.hdd-4]\nidle_w = -1\n", 2, "parts.hdd-4.idle_w"),
    "key": ("factor = 1\n", 1, "factor"),
    "no table": ("parts = 1\n", 1, "parts"),
    "part without table": ("[parts]\nhdd-4 = 1\n", 2, "parts.hdd-4"),
    "factor as words": ('[factors]\npcie = "much"\n', 2, "factors.pcie"),
    "factor as switch": ("[factors]\npcie = true\n", 2, "factors.pcie"),
    "own class": ('[parts.hdd-4]\nclass = "x"\n', 2, "parts.hdd-4.class"),
}


@pytest.mark.parametrize("name", MEASURED)
def test_fault_of_measured_figures_is_told_there(folder, name):
    text, line, field = MEASURED[name]
    (folder / "m.toml").write_text(text)
    (fault,) = faults_of(folder, 'measured = "m.toml"\n' + GOOD)
    assert (fault.path, fault.line, fault.field) == (
        str(folder / "m.toml"),
        line,
        field,
    )


def test_measured_figures_that_are_not_there(folder):
    (fault,) = faults_of(folder, 'measured = "m.toml"\n' + GOOD)
    assert fault.problem == "does not exist"


FULL = (
    GOOD.replace("catalogs", 'ban = ["hdd-8"]\ninsist = ["hdd-4"]\ncatalogs')
    + """
bands = [{from_hour = 1, to_hour = 2, price_per_kwh = 0.1}]
[limits]
budget = 900
[usage]
sessions_per_day = 2
[choices]
layouts = ["pairs"]
[[owned]]
id = "hdd-4"
idle_w = 4
[[owned]]
kind = "hard drive"
class = "3.5in 5400"
tb = 4
[[parts]]
kind = "cable"
class = "single"
price = 3
[[spares]]
id = "hdd-4"
[overrides]
pcie = "0.8..0.9"
"""
)
SCALARS = st.one_of(
    st.booleans(),
    st.integers(-(2**63), 2**63 - 1),
    st.floats(),
    st.text(st.characters(codec="utf-8", exclude_categories=("Cs",)), max_size=8),
    st.dates(),
    st.sampled_from(
        ("hdd-4", "hard drive", "board", "3..5", "class:", "16 TiB", "5 %")
    ),
)
KEYS = st.sampled_from(
    ("id", "kind", "class", "tb", "count", "price", "needs", "usable_tb", "x_a", "")
)
VALUES = st.recursive(
    SCALARS,
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(KEYS, inner, max_size=4)
    ),
    max_leaves=10,
)


def places(value, at=()):
    """Return the place of every value in a table."""
    pairs = value.items() if isinstance(value, dict) else ()
    pairs = enumerate(value) if isinstance(value, list) else pairs
    found = [at]
    for step, inner in pairs:
        found += places(inner, (*at, step))
    return found


@pytest.fixture(scope="module")
def shared_folder(tmp_path_factory):
    return small_catalog(tmp_path_factory.mktemp("fuzz"))


def outcome(path, *settings):
    try:
        return read_scenario(path, settings)[0]
    except ScenarioError as error:
        return error.faults


@given(data=st.data())
@settings(max_examples=200, deadline=None, suppress_health_check=list(HealthCheck))
def test_any_toml_ends_in_a_scenario_or_in_faults(shared_folder, data):
    table = tomllib.loads(FULL)
    for _ in range(data.draw(st.integers(1, 3))):
        at = data.draw(st.sampled_from(places(table)[1:]))
        holder = table
        for step in at[:-1]:
            holder = holder[step]
        holder[at[-1]] = data.draw(VALUES)
    path = shared_folder / "any.toml"
    path.write_text(tomli_w.dumps(table), encoding="utf-8")
    found = outcome(path)
    assert isinstance(found, Scenario) or found


@given(key=st.sampled_from([".".join(map(str, at)) for at in places(tomllib.loads(FULL))])
       | st.text(max_size=8), value=st.text(max_size=8))  # fmt: skip
@settings(max_examples=100, deadline=None, suppress_health_check=list(HealthCheck))
def test_any_setting_ends_in_a_scenario_or_in_faults(shared_folder, key, value):
    path = shared_folder / "full.toml"
    path.write_text(FULL, encoding="utf-8")
    found = outcome(path, f"{key}={value}")
    assert isinstance(found, Scenario) or found

"""What ``optibox new`` writes: a scenario, a minimal catalog and a build file.

The keys of the scenario, their meaning and their defaults come from its records.
"""

from collections.abc import Iterator, Mapping
from typing import Any, get_args

import tomli_w
from pydantic.fields import FieldInfo

from optibox.catalog.columns import Figure, Record
from optibox.catalog.csvcells import FORMAT_LINE
from optibox.catalog.kinds import file_name
from optibox.files import FORMAT
from optibox.scenario import Scenario

ANSWERS: Mapping[tuple[str, str], Any] = {
    ("", "catalogs"): ["catalog"],
    ("needs", "usable_tb"): 6,
    ("needs", "failures_survived"): 1,
    ("needs", "read_mb_s"): 80,
    ("money", "tariff_per_kwh"): 0.3,
}
"""The five lines that a person answers."""

_SCENARIO_HEAD = f"""\
# optibox scenario: what the machine must do. Five lines decide; every other
# key stands behind a # with its default. Remove the # to change it.
format = {FORMAT}
"""

_OWNED = """\
# Parts that are there already: by catalog id, or written in place like this.
#[[owned]]
#kind = "hard drive"
#class = "3.5in 5400"
#tb = 4
#count = 2
"""

_CATALOG_HEAD = f"""\
# A catalog: one CSV file per kind of part. 'optibox catalog columns KIND' explains
# the columns, 'optibox catalog template KIND' writes a blank file.
format = {FORMAT}
name = "my parts"
currency = "EUR"
# The figures below are invented. Write false once prices and parts are your own.
invented = true
# date = 2026-01-31
#
# [postage]
# shop-a = 5.9
"""

_ROWS: Mapping[str, tuple[str, ...]] = {
    "chassis": ("id,class,bays_35,price", "tower-4,mini tower,4,55"),
    "board": (
        "id,class,sata_ports,slots,price",
        "board-6,soldered low-power,6,P1 x4 gen3 cpu open | P2 x1 gen3 cpu,140",
    ),
    "memory": ("id,class,gib,price", "mem-8,ddr4 so-dimm,8,22"),
    "power supply": (
        "id,class,form,rated_w,leads,price",
        "psu-300,small modern,atx,300,sata 3 | sata 3 | peripheral 2,48",
    ),
    "power lead": ("id,class,price", "adapter-1,crimped adapter,3"),
    "controller": (
        "id,class,connectors,native_ports,topology,pass_through,passes_standby,price",
        "ports-2,small native,2 sata,2,native,yes,yes,25",
    ),
    "network card": ("id,class,price", "net-2.5g,2.5g,24"),
    "network lead": ("id,class,network_gbit_s,type,price", "lead-3m,copper,10,cat6,5"),
    "hard drive": (
        "id,class,tb,recording,price",
        "hd-4,3.5in 5400,4,conventional,85",
        "hd-8,3.5in 5400,8,conventional,150",
    ),
    "solid-state drive": ("id,class,tb,price", "ssd-500,sata ssd,0.5,42"),
    "boot medium": ("id,class,gb,price", "boot-16,usb module,16,14"),
    "drive adapter": ("id,class,price", "frame-1,screw frame,6"),
    "cable": ("id,class,price", "sata-50cm,single,2.5"),
}

_BUILD = f"""\
# optibox build: a machine that stands there or is to be bought, part by part. Parts go
# by catalog id or are written in place; of wiring and operation write what you know.
# 'optibox check build.toml' fills in the rest, says how, and what is wrong.
format = {FORMAT}
name = "my machine"
catalogs = ["catalog"]
# owned = true          # all of it is there already and costs nothing

[[parts]]
id = "tower-4"

[[parts]]
id = "board-6"

[[parts]]
id = "mem-8"

[[parts]]
id = "psu-300"

[[parts]]
id = "boot-16"

[[parts]]
id = "hd-4"
count = 3

# A part in place; age_years, hours, starts, pending_sectors and batch make it owned.
#[[parts]]
#kind = "hard drive"
#class = "3.5in 5400"
#tb = 6
#role = "parity"
#name = "old"
#hours = 21_000

#[[wiring]]
#drives = ["drive-1", "drive-2"]
#host = "board"
#port = [1, 2]
#bay = ["3.5-1", "3.5-2"]

#[operation]
#layout = "independent"
#write_mode = "read-modify-write"
#timeout_min = 30
#flush_hour = 2
#checks_per_year = 4
"""


def starter_files() -> dict[str, str]:
    """Return the text of every file of a new folder, by relative path."""
    catalog = {
        f"catalog/{file_name(kind)}": "\n".join((FORMAT_LINE, *rows)) + "\n"
        for kind, rows in _ROWS.items()
    }
    return {
        "scenario.toml": scenario_text(),
        "build.toml": _BUILD,
        "catalog/catalog.toml": _CATALOG_HEAD,
        **catalog,
    }


def scenario_text() -> str:
    """Return a scenario with five answers and every other key commented out."""
    tops, sections, lists = [], [], []
    for name, info in Scenario.model_fields.items():
        record = _record_in(info)
        if name == "format":
            continue
        if record is None:
            tops.append(_key("", name, info))
        elif name == "owned":
            lists.append(_OWNED + _keys("", record, skipped={"id", "part", "count"}))
        elif get_args(info.annotation):
            lists.append(_repeated(name, record, info))
        else:
            sections.append(_section(name, record))
    return "\n".join([_SCENARIO_HEAD, *tops, *sections, *lists])


def _record_in(info: FieldInfo) -> type[Record] | None:
    """Return the record that a field holds, alone or several times."""
    for candidate in (info.annotation, *get_args(info.annotation)):
        if isinstance(candidate, type) and issubclass(candidate, Record):
            return candidate
    return None


def _section(name: str, record: type[Record]) -> str:
    nested = [
        _repeated(f"{name}.{field}", inner, info)
        for field, info in record.model_fields.items()
        if (inner := _record_in(info))
    ]
    return "\n".join([f"[{name}]\n{_keys(name, record)}", *nested])


def _repeated(name: str, record: type[Record], info: FieldInfo) -> str:
    return f"# {info.description}\n#[[{name}]]\n{_keys('', record)}"


def _keys(
    section: str, record: type[Record], skipped: frozenset[str] | set[str] = frozenset()
) -> str:
    fields = record.model_fields.items()
    return "".join(
        _key(section, name, info)
        for name, info in sorted(fields, key=lambda f: (section, f[0]) not in ANSWERS)
        if name not in skipped and not _record_in(info)
    )


def _key(section: str, name: str, info: FieldInfo) -> str:
    meaning = f"# {info.description}\n"
    if (section, name) in ANSWERS:
        return meaning + _assignment(name, ANSWERS[section, name])
    if info.is_required() or info.default is None:
        return f"{meaning}#{name} =\n"
    lines = _assignment(name, _plain(info.get_default(call_default_factory=True)))
    return meaning + "".join(f"#{line}\n" for line in lines.splitlines())


def _assignment(name: str, value: object) -> str:
    if isinstance(value, list):
        items: Iterator[str] = (tomli_w.dumps({"x": v})[4:].strip() for v in value)
        return f"{name} = [{', '.join(items)}]\n"
    return tomli_w.dumps({name: value})


def _plain(value: object) -> object:
    if isinstance(value, Figure):
        return str(value)
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    is_round = isinstance(value, float) and value.is_integer()
    return int(value) if is_round else value  # type: ignore[call-overload]

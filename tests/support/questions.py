"""Questions to the planner over the shipped catalog, drawn by a seed.

Every key of a scenario is varied. Each value comes from a stream of random numbers of
its own, named by seed and key, and parts are picked by the least hash, so that a new
key or a new part leaves the other draws as they were. The draws know nothing of how
answers are found: they were fixed before the search was looked at, and are not to be
tuned to it.

A question is a table as it stands in a scenario file, and a ``Nearness``: which limits
to set, once two best machines are known, and where between the two.
"""

import hashlib
import random
from collections.abc import Sequence
from dataclasses import dataclass, field
from fnmatch import fnmatchcase
from functools import lru_cache
from math import exp, log
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from unittest.mock import patch

import tomli_w

from optibox.catalog.catalog import Catalog
from optibox.catalog.columns import Part
from optibox.catalog.kinds import KIND_BY_NAME
from optibox.catalog.storage import HardDrive
from optibox.scenario import Scenario, read_scenario
from optibox.scenario.factors import Factors
from tests.support.middling import shipped

Table = dict[str, Any]
THEMES = ("SAS drives", "staggered starts", "two risers", "held drives")
LAYOUTS = ("independent", "striped", "pairs", "striped pairs")
AIM_DRAWS = (
    *("total cost",) * 8,
    *("purchase", "annual energy", "asleep watts", "ingest", "read") * 2,
)
WITNESS_KEYS = {
    "purchase": "budget",
    "annual energy": "annual_kwh",
    "asleep watts": "asleep_w",
    "total cost": "total_cost",
}
"""The limit that the best machine by an aim keeps best."""
FURTHER_KEYS = (*WITNESS_KEYS.values(), "spinning_w", "peak_w")
SHARES = (0.0, 0.02, 0.1, 0.3, 0.5, 0.7, 0.9, 0.97, 0.999)
"""Where a limit lies: 0 at the figure of the other machine, 1 at that of the plan."""
TOO_LOW = (0.0005, 0.003, 0.02)
"""By which share of its figure a limit undercuts the machine that is best in it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Nearness:
    """Limits between the figures of the best machine and of one by another aim.

    ``share`` below 0 undercuts what is best in that limit: nothing can fit.
    """

    witness_aim: str
    keys: tuple[str, ...]
    share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """One question: its table, its limits yet to be set, what it is about."""

    seed: int
    table: Table
    near: Nearness | None
    features: frozenset[str]
    """What it is made to hit; counted by the test of the draws."""


@dataclass(slots=True)
class Source:
    """Random values of one seed, each by its name."""

    seed: int
    features: set[str] = field(default_factory=set)

    def stream(self, key: str) -> random.Random:
        return random.Random(f"{self.seed} {key}")

    def chance(self, key: str, share: float) -> bool:
        return self.stream(f"whether {key}").random() < share

    def pick(self, key: str, options: Sequence[Any]) -> Any:
        return self.stream(key).choice(options)

    def between(self, key: str, low: float, high: float, digits: int) -> float:
        """Return a number, spread evenly over its logarithm."""
        x = self.stream(key).uniform(log(low), log(high))
        return round(exp(x), digits)

    def part(self, key: str, ids: Sequence[str]) -> str:
        """Return the id of least hash: a part more seldom changes the choice."""
        return min(
            ids,
            key=lambda name: hashlib.sha256(
                f"{self.seed} {key} {name}".encode()
            ).digest(),
        )

    def some(self, key: str, options: Sequence[Any]) -> list[Any]:
        """Return a choice of at least one, in order."""
        stream = self.stream(key)
        n = stream.randint(1, len(options))
        kept = set(stream.sample(range(len(options)), n))
        return [value for at, value in enumerate(options) if at in kept]

    def put(self, table: Table, key: str, share: float, options: Sequence[Any]) -> None:
        """Set a key in so many of all questions."""
        if self.chance(key, share):
            table[key.rpartition(".")[2]] = self.pick(key, options)


@lru_cache(maxsize=1)
def ids_by_kind() -> dict[str, tuple[str, ...]]:
    found: dict[str, list[str]] = {}
    for part in shipped().parts:
        found.setdefault(part.kind, []).append(part.id)
    return {kind: tuple(sorted(ids)) for kind, ids in found.items()}


def drawn(seed: int) -> Drawn:
    """Return the question of a seed."""
    source = Source(seed)
    table: Table = {
        "format": 1,
        "name": f"Question {seed}",
        "about": f"Drawn by seed {seed}.",
        "catalogs": ["invented"],
        "needs": _needs(source),
        "limits": _limits(source),
        "usage": _usage(source),
        "off_hours": _off_hours(source),
        "money": _money(source),
        "choices": _choices(source),
        "owned": _owned(source),
        "ban": _bans(source),
        "insist": _insisted(source),
        "spares": _spares(source),
        "overrides": _overrides(source),
        "parts": _parts(source),
    }
    for theme, share, write in (
        ("SAS drives", 0.12, _sas),
        ("staggered starts", 0.12, _staggered),
        ("two risers", 0.12, _two_risers),
        ("held drives", 0.12, _held),
    ):
        if source.chance(f"theme {theme}", share):
            source.features.add(theme)
            write(source, table)
    _reconcile(table)
    near = _nearness(source, table["choices"]["aim"])
    table = {key: value for key, value in table.items() if value not in ({}, [])}
    return Drawn(seed=seed, table=table, near=near, features=frozenset(source.features))


def _needs(source: Source) -> Table:
    size = source.between("size", 1.5, 40, 1)
    table: Table = {
        "usable_tib" if source.chance("usable_tib", 0.2) else "usable_tb": size,
        "failures_survived": source.pick("failures", (0, 1, 1, 1, 2)),
    }
    put = source.put
    put(table, "needs.read_mb_s", 0.7, (40, 60, 80, 100, 105, 150, 220))
    put(table, "needs.write_mb_s", 0.35, (30, 50, 75, 100))
    put(table, "needs.ingest_mb_s", 0.45, (50, 80, 110, 180, 260, 400))
    put(table, "needs.burst_gb", 0.4, (10, 40, 120, 350, 900))
    put(table, "needs.fill_fraction", 0.4, (0.0, 0.25, 0.6, 0.8, 0.95))
    put(table, "needs.memory_gib", 0.35, (4, 12, 16, 32))
    put(table, "needs.network_gbit_s", 0.25, (1, 2.5, 5, 10))
    put(table, "needs.other_end_gbit_s", 0.7, (1, 1, 2.5, 5, 10))
    put(table, "needs.other_end_medium", 0.3, ("sfp+", "twisted pair", "twisted pair"))
    put(table, "needs.cache_mirror", 0.25, (True, False))
    for key, share in (
        ("ecc", 0.12),
        ("management", 0.1),
        ("encryption", 0.15),
        ("hot_swap", 0.12),
    ):
        put(table, f"needs.{key}", share, (True, True, True, False))
    return table


def _limits(source: Source) -> Table:
    table: Table = {}
    source.put(table, "limits.array_drives", 0.3, (2, 3, 4, 5, 6, 8, 12))
    source.put(table, "limits.rack_units", 0.12, (1, 2, 3, 4))
    source.put(table, "limits.shape", 0.14, ("rack", "tower", "cube"))
    # round numbers, as people write them; a machine may be far off
    source.put(table, "limits.budget", 0.06, (450, 600, 900, 1400))
    source.put(table, "limits.spinning_w", 0.05, (22, 30, 45))
    source.put(table, "limits.peak_w", 0.06, (60, 80, 120))
    return table


def _usage(source: Source) -> Table:
    table: Table = {}
    put = source.put
    put(table, "usage.ingest_gb_per_day", 0.6, (0, 2, 12, 60, 200, 600))
    put(table, "usage.ingest_hour", 0.25, (0, 9, 13.5, 22))
    put(table, "usage.flush_hour", 0.25, (1, 4, 12, 23.5))
    put(table, "usage.check_hour", 0.25, (0, 3, 11, 18))
    put(table, "usage.sessions_per_day", 0.6, (0, 0.3, 1, 4, 12, 40))
    put(table, "usage.accesses_per_session", 0.3, (1, 3, 10, 40))
    put(table, "usage.minutes_between", 0.3, (0, 2, 9, 25))
    put(table, "usage.seconds_per_access", 0.25, (2, 120, 600))
    put(table, "usage.metadata_sessions_per_day", 0.2, (0.5, 2))
    put(table, "usage.checks_per_year", 0.3, (0, 1, 12, 26))
    put(table, "usage.spinning_fraction", 0.12, (0.02, 0.1, 0.4, 1.0))
    return table


def _off_hours(source: Source) -> Table:
    table: Table = {}
    if source.chance("off hours", 0.25):
        table["from_hour"] = source.pick("off from", (0, 1, 20, 23))
        table["to_hour"] = source.pick("off to", (6, 7, 9))
        source.put(table, "off_hours.weekend_too", 0.5, (True, False))
        source.put(table, "off_hours.boot_minutes", 0.5, (1, 5))
        source.put(table, "off_hours.suspend_w", 0.5, (1.5, 3))
    return table


def _money(source: Source) -> Table:
    tariff = source.pick("tariff", (0.08, 0.15, 0.22, 0.3, 0.36, 0.55))
    table: Table = {"tariff_per_kwh": tariff}
    if source.chance("bands", 0.2):
        source.features.add("bands")
        table["bands"] = _bands(source, tariff)
    source.put(table, "money.tariff_growth", 0.25, (-0.02, 0.03, 0.1))
    source.put(table, "money.years", 0.75, (1, 3, 4, 6, 8, 12))
    source.put(table, "money.discount", 0.25, (-0.01, 0.02, 0.06))
    source.put(table, "money.resale_fraction", 0.15, (0.1, 0.3))
    source.put(table, "money.carbon_g_per_kwh", 0.15, (50, 380))
    source.put(table, "money.currency", 0.1, ("EUR", "CHF"))
    if source.chance("terms", 0.25):
        terms = ("energy", "wear", "cache wear", "replacements", "resale")
        table["terms"] = ["purchase", *source.some("terms", terms)]
    return table


def _bands(source: Source, tariff: float) -> list[Table]:
    bands = []
    for at in range(source.pick("number of bands", (1, 1, 2, 3))):
        start = source.pick(f"band {at} from", (0, 6, 11, 17, 22))
        length = source.pick(f"band {at} length", (1, 4, 8))
        bands.append(
            {
                "days": source.pick(f"band {at} days", ("all", "weekdays", "weekend")),
                "from_hour": start,
                "to_hour": (start + length) % 24,
                "price_per_kwh": round(
                    tariff * source.pick(f"band {at} price", (0.3, 0.7, 1.4, 2)), 3
                ),
            }
        )
    return bands


def _choices(source: Source) -> Table:
    table: Table = {"aim": source.pick("aim", AIM_DRAWS)}
    if source.chance("layouts", 0.5):
        one = source.chance("one layout", 0.6)
        layouts = [source.pick("layout", LAYOUTS)] if one else None
        table["layouts"] = layouts or source.some("layouts", LAYOUTS)
    modes = ("read-modify-write", "reconstruct", "plain")
    source.put(table, "choices.write_modes", 0.25, [[m, "plain"] for m in modes[:2]])
    if source.chance("caches", 0.4):
        table["caches"] = source.some("caches", ("none", "single", "mirror"))
    if source.chance("timeouts", 0.6):
        table["timeouts_min"] = source.some("timeouts", (3, 5, 10, 20, 60, 180))
    source.put(table, "choices.allow_never", 0.3, (False, False, True))
    source.put(table, "choices.allow_multipliers", 0.25, (True, True, False))
    source.put(table, "choices.sequential_wake_verified", 0.25, (True, False))
    source.put(table, "choices.erase_late", 0.2, (False, False, True))
    return table


# parts ------------------------------------------------------------------------


def _history(source: Source, key: str, *, is_drive: bool) -> Table:
    """Return what is said of the past of an owned lot."""
    table: Table = {}

    def put(name: str, share: float, options: Sequence[Any]) -> None:
        if source.chance(f"{key} {name}", share):
            table[name] = source.pick(f"{key} {name}", options)

    put("count", 0.5, (1, 2, 3, 4))
    put("age_years", 0.3, (0.5, 2, 5.5))
    put("replacement_price", 0.2, (15, 60, 140))
    put("batch", 0.25, ("first", "second"))
    if not is_drive:
        return table
    put("hours", 0.4, (500, 12_000, 46_000))
    put("starts", 0.5, (40, 2_500, 11_000, 60_000))
    put("pending_sectors", 0.15, (0, 3, 200))
    put("reallocated_sectors", 0.15, (0, 12))
    put("hidden_sectors", 0.15, (0, 2_000_000, 2_000_000_000))
    put("idle_w", 0.15, ("4.4 [4.2..4.7]", "3.1"))
    # most drives of a drawer are empty; full ones are a theme of their own
    put("holds_data", 0.8, (False, False, False, True))
    put("trust_pending", 0.25, (True, False))
    put("serials", 0.25, (["7QX1"], ["A03"]))
    if source.chance(f"{key} copied", 0.25):
        table["second_copy"] = True
        put("second_copy_on", 0.9, ("a box at the office", "the neighbour's machine"))
        put("bring_back", 0.9, (False, True))
    return table


def _owned(source: Source) -> list[Table]:
    if not source.chance("owned", 0.55):
        return []
    source.features.add("owned lots")
    lots: dict[str, Table] = {}
    n = source.pick("number of lots", (2, 3, 5, 8, 12))
    kinds = source.stream("kinds of lots").choices(sorted(KIND_BY_NAME), k=n)
    if source.chance("owned drives", 0.6):
        kinds += ["hard drive"] * source.pick("lots of drives", (1, 2, 4))
    for at, kind in enumerate(kinds):
        name = source.part(f"lot {at}", ids_by_kind()[kind])
        lots[name] = {"id": name} | _history(
            source, f"lot {at}", is_drive=kind == "hard drive"
        )
    found = list(lots.values())
    if source.chance("drawer drive", 0.25):
        found.append(
            {
                "id": "drawer-drive",
                "kind": "hard drive",
                "class": source.pick("drawer class", ("3.5in 5400", "3.5in 7200")),
                "tb": source.pick("drawer size", (2, 4, 6, 10)),
                "recording": "conventional",
            }
            | _history(source, "drawer", is_drive=True)
        )
    return found


def _bans(source: Source) -> list[str]:
    if not source.chance("ban", 0.4):
        return []
    patterns = (
        "feature:shingled",
        "feature:m2-controller",
        "feature:multiplier",
        "feature:flash-stick",
        "class:small unknown",
        "class:3.5in 7200 helium",
        "kind:network card",
        "kind:controller",
        "ref-*",
        "*-used",
        "hdd-25-*",
        "board-soldered-*",
        "psu-*-lean",
        "chassis-mini-*",
    )
    stream = source.stream("bans")
    found = stream.sample(patterns, stream.randint(1, 3))
    kinds = ("hard drive", "board", "chassis", "power supply", "memory")
    for at in range(source.pick("banned ids", (0, 1, 2))):
        kind = source.pick(f"banned kind {at}", kinds)
        found.append(source.part(f"banned {at}", ids_by_kind()[kind]))
    return sorted(set(found))


def _insisted(source: Source) -> list[str]:
    if not source.chance("insist", 0.18):
        return []
    kinds = (
        "hard drive",
        "board",
        "chassis",
        "power supply",
        "controller",
        "boot medium",
        "network card",
        "memory",
    )
    kind = source.pick("insisted kind", kinds)
    return [source.part("insisted", ids_by_kind()[kind])]


def _spares(source: Source) -> list[Table]:
    if not source.chance("spares", 0.15):
        return []
    source.features.add("spares")
    kinds = ("hard drive", "cable", "memory", "power supply", "solid-state drive")
    found = {}
    for at in range(source.pick("number of spares", (1, 1, 2))):
        kind = source.pick(f"spare kind {at}", kinds)
        name = source.part(f"spare {at}", ids_by_kind()[kind])
        found[name] = {"id": name, "count": source.pick(f"spare count {at}", (1, 2))}
    return list(found.values())


def _overrides(source: Source) -> Table:
    if not source.chance("overrides", 0.5):
        return {}
    stream = source.stream("factors")
    names = stream.sample(list(Factors.model_fields), stream.randint(3, 6))
    found = {}
    for name in sorted(names):
        figure = Factors.model_fields[name].default
        end = source.pick(f"factor {name}", ("low", "high"))
        value = getattr(figure, end)
        if value == figure.mid:  # a setting, without a range
            value *= 0.97 if end == "low" else 1.03
        found[name] = round(value, 4)
    return found


def _parts(source: Source) -> list[Table]:
    """Return catalog rows with other prices, and one written in place."""
    if not source.chance("parts", 0.2):
        return []
    found = {}
    for at in range(source.pick("number of prices", (1, 3, 6))):
        kind = source.pick(f"priced kind {at}", ("hard drive", "board", "chassis"))
        name = source.part(f"priced {at}", ids_by_kind()[kind])
        found[name] = {
            "id": name,
            "price": source.between(f"price {at}", 20, 200, 2),
        }
    if source.chance("part in place", 0.5):
        found["market-drive"] = {
            "id": "market-drive",
            "kind": "hard drive",
            "class": "3.5in 7200 helium",
            "tb": 11,
            "recording": "conventional",
            "price": source.between("market price", 80, 200, 2),
        }
    return list(found.values())


# themes -----------------------------------------------------------------------

SAS = ("hdd-35-6tb-sas", "hdd-35-8tb-sas", "hdd-35-14tb-sas", "hdd-25-2tb-sas")


def _sas(source: Source, table: Table) -> None:
    """Make drives that need a controller of their own worth having."""
    way = source.pick("way to SAS", ("insist", "owned", "only", "cheap"))
    name = source.part("SAS drive", SAS)
    if way == "insist":
        table["insist"] = [name]
    elif way == "owned":
        count = source.pick("SAS pieces", (2, 3, 4, 6))
        lot = {"id": name, "count": count, "starts": 900, "holds_data": False}
        table["owned"] = [o for o in table["owned"] if o["id"] != name] + [lot]
    elif way == "only":
        classes = {
            p.part_class
            for p in shipped().parts
            if isinstance(p, HardDrive) and "sas" not in p.part_class
        }
        table["ban"] = sorted(f"class:{c}" for c in classes)
    else:
        priced = [{"id": n, "price": 25.0} for n in SAS[:2]]
        table["parts"] = [p for p in table["parts"] if p["id"] not in SAS] + priced


def _staggered(source: Source, table: Table) -> None:
    """Ask for more drives than a small supply can start at once."""
    table["ban"] = sorted({*table["ban"], "hdd-35-1?tb-*", "hdd-35-2?tb-*"})
    needs = table["needs"]
    needs.pop("usable_tib", None)
    needs["usable_tb"] = source.between("many drives", 14, 34, 1)
    table["limits"].pop("array_drives", None)
    weak = (
        "psu-flex-250",
        "psu-1u-250",
        "psu-sfx-300",
        "psu-atx-300-lean",
        "ref-supply-matched-200",
        "psu-brickconv-200",
    )
    table["insist"] = [source.part("weak supply", weak)]


def _two_risers(source: Source, table: Table) -> None:
    """Ask for a mirrored cache of modules on a board without sockets for them."""
    table["choices"]["caches"] = ["mirror"]
    sata = ("ssd-sata-*", "ref-ssd-*", "ssd-m2sata-*")
    table["ban"] = sorted({*table["ban"], *sata})
    if source.chance("board without sockets by ban", 0.5):
        table["ban"] = sorted({*table["ban"], "board-*"})
    else:
        boards = ("ref-board", "board-t-micro-6s-1g-ecc", "board-soldered-micro-4s-1g")
        table["insist"] = [source.part("board without sockets", boards)]
    if source.chance("risers there already", 0.5):
        name = source.part("riser", ("riser-1m2-x4", "riser-1m2-x1"))
        lot = {"id": name, "count": 2}
        table["owned"] = [o for o in table["owned"] if o["id"] != name] + [lot]


def _held(source: Source, table: Table) -> None:
    """Reuse drives whose data must be moved first."""
    ids = [p.id for p in shipped().parts if isinstance(p, HardDrive) and p.tb <= 14]
    lots = {o["id"]: o for o in table["owned"]}
    for at in range(source.pick("held lots", (1, 2, 3))):
        name = source.part(f"held {at}", sorted(set(ids) - set(SAS)))
        lot: Table = {"id": name, "count": source.pick(f"held count {at}", (1, 2, 3))}
        source.put(lot, f"held {at}.held_tb", 0.6, (0.4, 1, 2.5))
        source.put(lot, f"held {at}.second_copy", 0.35, (True, False))
        where = ("this machine", "another machine", "loose")
        source.put(lot, f"held {at}.sits_in", 0.6, where)
        source.put(lot, f"held {at}.old_array", 0.4, ("tank", "tank", "pool"))
        source.put(lot, f"held {at}.starts", 0.5, (300, 4_000))
        if lot.get("held_tb", 0) > shipped().by_id[name].tb:
            lot["held_tb"] = shipped().by_id[name].tb / 2
        lots[name] = lot
    _old_arrays(source, list(lots.values()))
    table["owned"] = list(lots.values())


def _old_arrays(source: Source, lots: list[Table]) -> None:
    """Say of which members old arrays were made; one drive alone has to be said."""
    for name in ("tank", "pool"):
        members = [lot for lot in lots if lot.get("old_array") == name]
        if not members:
            continue
        listed = sum(lot.get("count", 1) for lot in members)
        missing = source.pick(f"{name} missing", (0, 0, 1))
        if listed == 1 or missing or source.chance(f"{name} counted", 0.9):
            members[0]["array_members"] = listed + missing
        if missing or source.chance(f"{name} may miss", 0.9):
            members[0]["array_may_miss"] = max(1, missing)
        if source.chance(f"{name} roles", 0.9):
            for lot in members:
                lot["array_role"] = "data"
            if len(members) > 1 and source.chance(f"{name} parity", 0.7):
                members[-1]["array_role"] = "parity"
                members[-1].pop("held_tb", None)


# what would be refused ----------------------------------------------------------


def _reconcile(table: Table) -> None:
    """Take out what a scenario may not say together."""
    _reconcile_amounts(table)
    _reconcile_choices(table["needs"], table["choices"])
    if "rack_units" in table["limits"]:
        table["limits"]["shape"] = "rack"
    _reconcile_names(table)


def _reconcile_amounts(table: Table) -> None:
    """Drop rates that no network carries and bursts that nothing holds."""
    needs = table["needs"]
    most = 125 * needs.get("other_end_gbit_s", 10)
    for key in ("read_mb_s", "write_mb_s", "ingest_mb_s"):
        if needs.get(key, 0) > 0.85 * most:
            del needs[key]
    size = needs.get("usable_tb") or needs["usable_tib"]
    for record, key in ((needs, "burst_gb"), (table["usage"], "ingest_gb_per_day")):
        if record.get(key, 0) > 300 * size:
            del record[key]


def _reconcile_choices(needs: Table, choices: Table) -> None:
    """Leave a layout, a write mode and a cache that go with the failures."""
    layouts = choices.get("layouts", LAYOUTS)
    if needs["failures_survived"] == 2 and not {"independent", "striped"} & {*layouts}:
        needs["failures_survived"] = 1
    mirrored = needs.get("cache_mirror", needs["failures_survived"] > 0)
    if mirrored and choices.get("caches") == ["single"]:
        choices["caches"] = ["none", "single"]
    if "write_modes" in choices and "independent" not in layouts:
        choices["write_modes"] = ["plain"]


def _reconcile_names(table: Table) -> None:
    """Drop bans of what is insisted on, spares that a ban rules out."""
    known = {**shipped().by_id}
    names = [*table["insist"], *(s["id"] for s in table["spares"])]
    parts = [known[name] for name in names]
    table["ban"] = [
        ban for ban in table["ban"] if not any(_bans_part(ban, part) for part in parts)
    ]


def _bans_part(ban: str, part: Part) -> bool:
    scheme, _, name = ban.rpartition(":")
    if scheme == "feature":
        return part.kind in ("hard drive", "controller", "boot medium")
    wanted = {"class": part.part_class, "kind": part.kind, "": part.id}[scheme]
    return fnmatchcase(wanted, name)


def _nearness(source: Source, aim: str) -> Nearness | None:
    if not source.chance("near", 0.85):
        return None
    others = [a for a in WITNESS_KEYS if a != aim]
    witness = source.pick("witness", others)
    if source.chance("too low", 0.12):
        share = -source.pick("too low", TOO_LOW)
        return Nearness(witness_aim=witness, keys=(WITNESS_KEYS[witness],), share=share)
    more = [k for k in FURTHER_KEYS if source.chance(f"limit {k}", 0.15)]
    keys = dict.fromkeys((WITNESS_KEYS[witness], *more))
    share = source.pick("share", SHARES)
    return Nearness(witness_aim=witness, keys=tuple(keys), share=share)


def asked(table: Table) -> tuple[Scenario, Catalog]:
    """Return the scenario and the catalog of a table, read from a file."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "question.toml"
        path.write_text(tomli_w.dumps(table), encoding="utf-8")
        # the shipped catalog is the same for all: reading it again takes the time
        with patch("optibox.scenario.read.read_catalog", lambda _: shipped()):
            return read_scenario(path)

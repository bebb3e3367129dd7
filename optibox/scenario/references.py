"""Names of parts in a scenario: what is ruled out, insisted on, kept as a spare."""

from collections.abc import Collection, Iterable, Iterator, Mapping
from fnmatch import fnmatchcase
from typing import Any

from optibox.catalog.catalog import Catalog
from optibox.catalog.kinds import KIND_BY_NAME
from optibox.catalog.nearest import nearest
from optibox.scenario.checks import Clash

FEATURES = ("shingled", "multiplier", "m2-controller", "flash-stick")
"""Features that can be ruled out."""

OWNED = "@owned"
_WILD = frozenset("*?[")


def unknown_names(
    table: Mapping[str, Any],
    catalog: Catalog,
    owned_ids: Iterable[str],
    class_names: Collection[str],
) -> Iterator[Clash]:
    """Yield the names in ``ban``, ``insist`` and ``spares`` that lead nowhere."""
    owned = list(owned_ids)
    ids = [*catalog.by_id, *owned, *(name + OWNED for name in owned)]
    bans = list(_texts(table.get("ban", ())))
    for number, ban in bans:
        yield from _ban(("ban", number), ban, ids, class_names)
    for number, name in _texts(table.get("insist", ())):
        if name not in ids:
            problem = "is the id of no part in the catalogs and of no owned one"
            yield Clash(("insist", number), name, problem, nearest(name, ids))
        for _, ban in bans:
            if fnmatchcase(name, ban):
                problem = f"is insisted on and ruled out by ban '{ban}'"
                remedy = "Delete it from one of the two."
                yield Clash(("insist", number), name, problem, remedy)
    for number, spare in enumerate(_listed(table.get("spares", ()))):
        wanted = spare.get("id") if isinstance(spare, Mapping) else None
        if isinstance(wanted, str) and wanted not in catalog.by_id:
            problem = "is the id of no part in the catalogs"
            remedy = nearest(wanted, catalog.by_id)
            yield Clash(("spares", number, "id"), wanted, problem, remedy)


def _listed(value: object) -> Iterable[Any]:
    return value if isinstance(value, list | tuple) else ()


def _texts(value: object) -> Iterator[tuple[int, str]]:
    for number, item in enumerate(_listed(value)):
        if isinstance(item, str):
            yield number, item


def _ban(
    loc: tuple[str, int], ban: str, ids: Collection[str], classes: Collection[str]
) -> Iterator[Clash]:
    scheme, mark, name = ban.rpartition(":")
    lists = {"class": classes, "kind": KIND_BY_NAME, "feature": FEATURES}
    if mark and scheme in lists:
        if name not in lists[scheme]:
            problem = f"is no {scheme} that can be ruled out"
            yield Clash(loc, ban, problem, nearest(name, lists[scheme]))
    elif mark:
        problem = "rules out by something unknown; expected class:, kind: or feature:"
        yield Clash(loc, ban, problem, nearest(scheme, lists))
    elif not _WILD & set(ban) and ban not in ids:
        problem = "is the id of no part in the catalogs and of no owned one"
        yield Clash(loc, ban, problem, nearest(ban, ids))

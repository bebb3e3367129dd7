"""A catalog and a scenario as what builds are made of."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Generic, Literal, TypeVar, cast

from optibox.build import Item, ItemCount
from optibox.build.items import items_of
from optibox.catalog.catalog import Catalog
from optibox.catalog.columns import Part
from optibox.scenario import Scenario
from optibox.scenario.records import Layout, WriteMode

PartT = TypeVar("PartT", bound=Part)


class ItemOf(Item, Generic[PartT]):
    """An item whose part is known to be of one kind; a name for type checkers."""

    part: PartT


@dataclass(frozen=True)
class Shelf:
    """What every build of a scenario has alike."""

    spares: tuple[ItemCount, ...]
    postage: tuple[tuple[str, float], ...]


@dataclass(frozen=True)
class Domain:
    """A catalog and a scenario as the items that builds are made of."""

    catalog: Catalog
    scenario: Scenario
    items: tuple[Item, ...]

    def of(self, record: type[PartT]) -> list[ItemOf[PartT]]:
        """Return the items of one kind."""
        found = [item for item in self.items if isinstance(item.part, record)]
        return cast("list[ItemOf[PartT]]", found)

    @property
    def shelf(self) -> Shelf:
        """Return spares and postage."""
        by_key = {item.key: item for item in self.items}
        spares = tuple(
            ItemCount(item=by_key[spare.id], count=spare.count)
            for spare in self.scenario.spares
        )
        return Shelf(spares, tuple(sorted(self.catalog.postage.items())))


def domain_of(catalog: Catalog, scenario: Scenario) -> Domain:
    """Return the domain of a catalog under a scenario."""
    return Domain(catalog, scenario, items_of(catalog, scenario))


def modes_of(
    scenario: Scenario,
) -> Iterator[tuple[Layout, Literal[0, 1, 2], WriteMode]]:
    """Yield the layouts of the closed list with parity and write mode."""
    both: tuple[tuple[Literal[1, 2], WriteMode], ...] = (
        (1, "read-modify-write"),
        (1, "reconstruct"),
        (2, "read-modify-write"),
        (2, "reconstruct"),
    )
    layouts, modes = scenario.choices.layouts, scenario.choices.write_modes
    if "independent" in layouts:
        yield "independent", 0, "plain"
        for n_parity, mode in both:
            if mode in modes:
                yield "independent", n_parity, mode
    if "striped" in layouts:
        yield "striped", 1, "plain"
        yield "striped", 2, "plain"
    if "pairs" in layouts:
        yield "pairs", 0, "plain"
    if "striped pairs" in layouts:
        yield "striped pairs", 0, "plain"

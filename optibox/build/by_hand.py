"""The records of a build written by hand: what stands under each key of the file.

Everything but ``[[parts]]`` may be left out.
"""

from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator

from optibox.build.records import Role
from optibox.build.saved import Name, Port, SavedSurroundings, Timeout
from optibox.catalog.columns import Record, Unit, col
from optibox.scenario.records import CacheKind, Hour, Layout, WriteMode


def _several(value: object) -> object:
    """Return one value as a list of one."""
    is_one = isinstance(value, str | int | float)
    return (value,) if is_one else value


Texts = Annotated[tuple[Name, ...], BeforeValidator(_several)]
Places = Annotated[tuple[str, ...], BeforeValidator(_several)]
Ports = Annotated[tuple[Port, ...], BeforeValidator(_several)]


class HandUse(Record):
    """How a part is used: the keys of ``[[parts]]`` that are no cells of its row."""

    count: Annotated[int, AfterValidator(Unit("", 1, 100))] = col("How many", 1)
    role: Role | None = col("What a drive does; blank = decided from the rest", None)
    name: str = col("What the wiring calls it", "")
    slot: Places = col("Slot of a card or module, such as 'P1' or 'riser-1.2'", ())
    owned: bool | None = col("It is there already; blank = as the file says", None)
    spare: bool = col("It lies on the shelf", default=False)


class HandWire(Record):
    """One drive, or the drives of one piece of cable, on their way to the ports."""

    drives: Texts = col("Names of the drives, such as 'data-1'")
    bay: Places = col("Bay of each, such as '3.5-2'", ())
    host: Name | None = col("'board', or name or id of the card", None)
    connector: Port | None = col("Multi-lane connector of the card, from 1", None)
    port: Ports = col("SATA port of the host, or lane of its connector, from 1", ())
    cable: Name | None = col("Id of the cable", None)
    adapter: Name | None = col("Id of the adapter that fits the drive in", None)


class HandOperation(Record):
    """How the machine is run, as far as it is known."""

    layout: Layout | None = col("Array layout", None)
    n_parity: Literal[0, 1, 2] | None = col("Parity drives", None)
    write_mode: WriteMode | None = col("Write mode of parity", None)
    cache: CacheKind | None = col("Cache arrangement", None)
    timeout_min: Timeout = col("Minutes until a drive stops, or 'never'", None)
    flush_hour: Hour | None = col("Hour of day at which a cache is flushed", None)
    checks_per_year: Annotated[float, AfterValidator(Unit("", 0, 366))] | None = col(
        "Full checks of the array in a year", None
    )


class HandBuild(Record):
    """A build written by hand as a whole."""

    format: Literal[1] = col("Format version of the file", 1)
    name: str = col("Name of the machine", "")
    about: str = col("What it is about", "")
    catalogs: tuple[str, ...] = col("Catalogs that ids are looked up in", ())
    owned: bool = col("All parts are there already and cost nothing", default=False)
    parts: tuple[dict[str, Any], ...] = col("Parts by id, or written in place", ())
    wiring: tuple[HandWire, ...] = col("What is known of the wiring", ())
    operation: HandOperation = col("How it is run", HandOperation())
    around: SavedSurroundings = col("What stands around it", SavedSurroundings())

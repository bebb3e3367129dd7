"""The records of a saved build: what stands under each key of the file."""

from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, ConfigDict, Field

from optibox.build.records import Role
from optibox.catalog.columns import Record, Unit, col
from optibox.scenario.records import CacheKind, Hour, Layout, WriteMode

NEVER = "never"

Name = Annotated[str, Field(min_length=1, max_length=200)]
Pieces = Annotated[int, AfterValidator(Unit("", 1, 1000))]
Port = Annotated[int, AfterValidator(Unit("", 1, 256))]
Timeout = Annotated[
    Annotated[float, AfterValidator(Unit("min", 0.1, 525_600))] | None,
    BeforeValidator(lambda value: None if value == NEVER else value),
]


class Saved(Record):
    """A record of the file; names are kept to the letter."""

    model_config = ConfigDict(str_strip_whitespace=False)


class SavedOperation(Saved):
    """How the machine is run."""

    layout: Layout = col("Array layout")
    n_parity: Literal[0, 1, 2] = col("Parity drives", 0)
    write_mode: WriteMode = col("Write mode of parity", "plain")
    cache: CacheKind = col("Cache arrangement", "none")
    timeout_min: Timeout = col("Minutes until a drive stops, or 'never'", None)
    flush_hour: Hour = col("Hour of day at which a cache is flushed", 2.0)
    checks_per_year: Annotated[float, AfterValidator(Unit("", 0, 366))] = col(
        "Full checks of the array in a year", 4.0
    )


class SavedItem(Saved):
    """So many pieces of one item, with the row it was planned with."""

    key: Name = col("Name of the item in this file")
    count: Pieces = col("How many")
    limit: Annotated[int, AfterValidator(Unit("", 0, 1_000_000))] | None = col(
        "Most pieces to be had", None
    )
    part: dict[str, Any] = col("Its row: kind and cells")
    owned: dict[str, Any] | None = col("Its history, where it is there already", None)


class SavedSpare(Saved):
    """Pieces for the shelf: of an item above, or with a row of their own."""

    key: Name = col("Name of an item")
    count: Pieces = col("How many")
    limit: Annotated[int, AfterValidator(Unit("", 0, 1_000_000))] | None = col(
        "Most pieces to be had", None
    )
    part: dict[str, Any] | None = col("Its row, unless an item has it", None)
    owned: dict[str, Any] | None = col("Its history, where it is there already", None)


class SavedDrive(Saved):
    """One drive and its role."""

    name: Name = col("Name of the drive")
    key: Name = col("Item that it is")
    role: Role = col("Role")


class SavedConnection(Saved):
    """One drive on its way to a port."""

    drive: Name = col("Name of the drive")
    bay: str = col("Bay", "")
    cable: str = col("Name of the piece of cable", "")
    cable_key: str = col("Item that the cable is", "")
    host: Name = col("board, or the name of a card")
    connector: Port = col("Connector at the host, from 1")
    port: Port = col("Port of the connector, from 1", 1)
    adapter_key: str = col("Item that fits the drive into its bay", "")


class SavedFeed(Saved):
    """What hangs on one power plug."""

    load: Name = col("Drive, inlet of the backplane ('backplane-1') or adapter")
    source: Name = col("'lead-1' of the supply, 'board', or name of an adapter")
    plug: Port = col("Plug of it, from 1")
    key: str = col("Item that an adapter is", "")


class SavedSlot(Saved):
    """One card, riser or module in a slot."""

    name: Name = col("Name of the card")
    key: Name = col("Item that it is")
    slot: Name = col("Slot that it is in")


class SavedSurroundings(Saved):
    """What stands around the machine, as far as it is known."""

    ups_va: Annotated[float, AfterValidator(Unit("VA", 1, 100_000))] | None = col(
        "What a battery supply gives [VA]; blank = none, or not known", None
    )
    ups_minutes: Annotated[float, AfterValidator(Unit("min", 0, 1440))] | None = col(
        "How long its battery lasts at this load [min]", None
    )
    mtu_b: Annotated[int, AfterValidator(Unit("B", 576, 65_535))] | None = col(
        "Largest frame payload set on this machine [bytes]", None
    )
    other_end_mtu_b: Annotated[int, AfterValidator(Unit("B", 576, 65_535))] | None = (
        col("The same at the other end and on the way there [bytes]", None)
    )


class SavedBelongings(Saved):
    """What else bears on moving data into the machine."""

    filesystem_reserve: Annotated[float, AfterValidator(Unit("", 0, 1))] | None = col(
        "Share of a drive that its file system keeps; blank = the usual", None
    )
    beside: tuple[SavedItem, ...] = col("Owned drives that it does not use", ())


class SavedBuild(Saved):
    """A saved build as a whole."""

    format: Literal[1] = col("Format version of the file", 1)
    stamp: str = col("What the build was planned with", "")
    name: str = col("What the machine is called", "")
    currency: str = col("Currency of its prices; blank = the catalog's", "")
    owned: bool = col("All of it is there already", default=False)
    operation: SavedOperation = col("How the machine is run")
    items: tuple[SavedItem, ...] = col("Items with their rows", ())
    drives: tuple[SavedDrive, ...] = col("Drives with their roles", ())
    wiring: tuple[SavedConnection, ...] = col("Drives on their ports", ())
    slots: tuple[SavedSlot, ...] = col("Cards in their slots", ())
    power: tuple[SavedFeed, ...] = col("What hangs on which power plug", ())
    spares: tuple[SavedSpare, ...] = col("Pieces for the shelf", ())
    postage: dict[str, Annotated[float, AfterValidator(Unit("", 0, 100_000))]] = col(
        "Postage per seller and order", {}
    )
    around: SavedSurroundings = col("What stands around it", SavedSurroundings())
    belongings: SavedBelongings | None = col(
        "What else is owned; blank = unknown", None
    )

"""The scenario: what a person asks for, with a documented default for each key."""

from typing import Annotated, ClassVar, Literal

from pydantic import AfterValidator, Field, model_validator

from optibox.catalog.columns import (
    Gibibytes,
    Gigabit,
    Price,
    Record,
    Unit,
    col,
)
from optibox.catalog.columns import Part as CatalogPart
from optibox.catalog.platform import Medium
from optibox.scenario.clash import clash
from optibox.scenario.factors import Factors
from optibox.units import tib_to_tb

UsableTb = Annotated[float, AfterValidator(Unit("TB", 0.01, 1000))]
UsableTib = Annotated[float, AfterValidator(Unit("TiB", 0.01, 900))]
Rate = Annotated[float, AfterValidator(Unit("MB/s", 0, 20_000))]
Hour = Annotated[float, AfterValidator(Unit("h", 0, 24))]
Share = Annotated[float, AfterValidator(Unit("", 0, 1))]
Watt = Annotated[float, AfterValidator(Unit("W", 0.1, 2000))]
Years = Annotated[int, AfterValidator(Unit("years", 1, 30))]
Money_ = Annotated[float, AfterValidator(Unit("currency", 0, 1_000_000))]
Layout = Literal["independent", "striped", "pairs", "striped pairs"]
WriteMode = Literal["read-modify-write", "reconstruct", "plain"]
CacheKind = Literal["none", "single", "mirror"]
Term = Literal["purchase", "energy", "wear", "cache wear", "replacements", "resale"]
Aim = Literal[
    "total cost", "purchase", "annual energy", "asleep watts", "ingest", "read"
]
SitsIn = Literal["this machine", "another machine", "loose"]
DAYS = (
    "Monday",
    "Tuesday",
    "Wednesday",
    "Thursday",
    "Friday",
    "Saturday",
    "Sunday",
)
TIMEOUTS_MIN: tuple[float, ...] = (5, 10, 15, 30, 45, 60, 90, 120, 180)


class Needs(Record):
    """What the machine must hold, survive and move."""

    usable_tb: UsableTb | None = col("Files to hold, in TB (10^12 bytes)", None)
    usable_tib: UsableTib | None = col("Files to hold, in TiB (2^40 bytes)", None)
    failures_survived: Literal[0, 1, 2] = col("Drive failures without loss", 1)
    read_mb_s: Rate = col("Restore one file at least this fast [MB/s]", 0.0)
    write_mb_s: Rate = col("Write to the array for hours this fast [MB/s]", 0.0)
    ingest_mb_s: Rate = col("Take in a burst this fast [MB/s]", 0.0)
    burst_gb: Annotated[float, AfterValidator(Unit("GB", 0, 1_000_000))] | None = col(
        "Size of that burst [GB]; blank = a day's ingest", None
    )
    fill_fraction: Share = col("How full the drives are at those rates", 0.5)
    memory_gib: Gibibytes = col("Memory at least [GiB]", 8.0)
    network_gbit_s: Gigabit | None = col("Network port at least [Gb/s]", None)
    other_end_gbit_s: Gigabit = col("Port at the other end [Gb/s]", 10.0)
    other_end_medium: Medium = col("Plug at the other end", "twisted pair")
    ecc: bool = col("Memory errors must be corrected", default=False)
    management: bool = col("Remote management must be there", default=False)
    encryption: bool = col("Data are encrypted on the way or at rest", default=False)
    hot_swap: bool = col("Drives are exchanged while running", default=False)
    cache_mirror: bool | None = col(
        "A cache must be mirrored; blank = when failures are to be survived", None
    )

    @model_validator(mode="after")
    def _one_capacity(self) -> "Needs":
        if self.usable_tb is None and self.usable_tib is None:
            problem = "is missing, and usable_tib with it"
            remedy = "Say what must be held: usable_tb = 8, or usable_tib."
            raise clash(key="usable_tb", problem=problem, remedy=remedy)
        if self.usable_tb is not None and self.usable_tib is not None:
            problem = "stands beside usable_tb; expected one of the two"
            raise clash(
                key="usable_tib", problem=problem, remedy="Delete one of the lines."
            )
        return self

    @property
    def capacity_tb(self) -> float:
        """Return the capacity asked for. [TB]."""
        if self.usable_tb is not None:
            return self.usable_tb
        return tib_to_tb(self.usable_tib or 0.0)

    @property
    def rates(self) -> tuple[float, float, float]:
        """Return the least rates of a burst's ingest, of writing and reading. [MB/s]."""
        return self.ingest_mb_s, self.write_mb_s, self.read_mb_s

    @property
    def fastest_mb_s(self) -> float:
        """Return the fastest that anything has to go over the network. [MB/s]."""
        return max(self.rates)

    @property
    def needs_cache_mirror(self) -> bool:
        """Return whether one cache drive alone is refused."""
        if self.cache_mirror is None:
            return self.failures_survived > 0
        return self.cache_mirror


class Limits(Record):
    """What the machine may not exceed."""

    budget: Money_ | None = col("Purchase at most", None)
    total_cost: Money_ | None = col("Cost over the years at most", None)
    annual_kwh: Annotated[float, AfterValidator(Unit("kWh", 1, 50_000))] | None = col(
        "Energy at the wall in a year at most [kWh]", None
    )
    asleep_w: Watt | None = col("At the wall, all drives asleep, at most [W]", None)
    spinning_w: Watt | None = col("At the wall, drives spinning, at most [W]", None)
    peak_w: Watt | None = col("At the wall, at the worst instant, at most [W]", None)
    rack_units: Annotated[int, AfterValidator(Unit("U", 1, 12))] | None = col(
        "Height in rack units at most (and it must go in a rack)", None
    )
    shape: Literal["rack", "tower", "cube"] | None = col("How it stands", None)
    array_drives: Annotated[int, AfterValidator(Unit("", 1, 60))] = col(
        "Array drives at most", 16
    )


class Usage(Record):
    """What happens on a mean day."""

    ingest_gb_per_day: Annotated[float, AfterValidator(Unit("GB", 0, 100_000))] = col(
        "New data a day [GB]", 20.0
    )
    ingest_hour: Hour = col("Hour of day at which ingest starts", 20.0)
    flush_hour: Hour = col("Hour of day at which a cache is flushed", 2.0)
    check_hour: Hour = col("Hour of day at which a check starts", 6.0)
    sessions_per_day: Annotated[float, AfterValidator(Unit("", 0, 10_000))] = col(
        "Times a day at which somebody reads", 2.0
    )
    accesses_per_session: Annotated[int, AfterValidator(Unit("", 1, 10_000))] = col(
        "Accesses in one such session", 5
    )
    minutes_between: Annotated[float, AfterValidator(Unit("min", 0, 1440))] = col(
        "Minutes between accesses of a session", 8.0
    )
    seconds_per_access: Annotated[float, AfterValidator(Unit("s", 0, 86_400))] = col(
        "Seconds for which one access keeps a drive busy", 30.0
    )
    metadata_sessions_per_day: Annotated[float, AfterValidator(Unit("", 0, 10_000))] = (
        col("Times a day at which every data drive is looked into", 0.0)
    )
    checks_per_year: Annotated[float, AfterValidator(Unit("", 0, 366))] = col(
        "Full checks of the array in a year", 4.0
    )
    spinning_fraction: Share | None = col(
        "Share of time that each drive spins, instead of sessions", None
    )


class TariffBand(Record):
    """A price that holds on some days between two hours."""

    days: Literal["all", "weekdays", "weekend"] = col("Days", "all")
    from_hour: Hour = col("From this hour of day")
    to_hour: Hour = col("Up to this hour of day; below from_hour it runs over midnight")
    price_per_kwh: Annotated[float, AfterValidator(Unit("per kWh", 0, 10))] = col(
        "Price of a kWh"
    )

    @model_validator(mode="after")
    def _whole_hours(self) -> "TariffBand":
        for key in ("from_hour", "to_hour"):
            if getattr(self, key) % 1:
                problem = f"is {getattr(self, key):g}; expected a whole hour"
                raise clash(
                    key=key,
                    problem=problem,
                    remedy="Prices are counted by the hour: round it.",
                )
        if self.from_hour % 24 == self.to_hour % 24 and self.to_hour != 24:
            problem = "is the hour at which the band starts; it would have no end"
            remedy = "Write from_hour = 0 and to_hour = 24 for the whole day."
            raise clash(key="to_hour", problem=problem, remedy=remedy)
        return self


class OffHours(Record):
    """When nobody needs answers, so that the whole machine may be off or suspended."""

    from_hour: Hour | None = col(
        "Hour of day from which nobody needs answers; blank = needed at any time", None
    )
    to_hour: Hour | None = col(
        "Hour of day from which they are needed again; below from_hour it is the next day",
        None,
    )
    weekend_too: bool = col("Nobody needs answers on weekends either", default=False)
    boot_minutes: Annotated[float, AfterValidator(Unit("min", 0, 120))] = col(
        "Minutes from switching on, or waking up, to the first answer", 3.0
    )
    suspend_w: Annotated[float, AfterValidator(Unit("W", 0, 200))] | None = col(
        "At the wall while suspended [W]; blank = switched off", None
    )

    @model_validator(mode="after")
    def _both_or_none(self) -> "OffHours":
        pair = {"from_hour": self.from_hour, "to_hour": self.to_hour}
        for key, hour in pair.items():
            if hour is not None and hour % 1:
                problem = f"is {hour:g}; expected a whole hour"
                raise clash(key=key, problem=problem, remedy="Round it.")
        for key, other in (("from_hour", "to_hour"), ("to_hour", "from_hour")):
            if pair[key] is None and pair[other] is not None:
                remedy = f"Give {key}, or take {other} out."
                raise clash(
                    key=key, problem=f"is missing beside {other}", remedy=remedy
                )
        if self.from_hour is not None and self.to_hour is not None:
            length = (self.to_hour - self.from_hour) % 24
            if not length:
                problem = "leaves no hours between from_hour and to_hour, or all"
                remedy = "Leave some hours for answers."
                raise clash(key="to_hour", problem=problem, remedy=remedy)
        return self

    def is_off(self, day: int, hour: int) -> bool:
        """Return whether nobody needs answers in one hour (day 0 is Monday)."""
        if self.weekend_too and day >= 5:
            return True
        if self.from_hour is None or self.to_hour is None:
            return False
        start, end, middle = self.from_hour, self.to_hour, hour + 0.5
        if start < end:
            return start <= middle < end
        return middle >= start or middle < end


class Money(Record):
    """How money is counted."""

    tariff_per_kwh: Annotated[float, AfterValidator(Unit("per kWh", 0, 10))] | None = (
        col("Price of a kWh, outside all bands", None)
    )
    bands: tuple[TariffBand, ...] = col("Prices by hour and day", ())
    tariff_growth: Annotated[float, AfterValidator(Unit("", -0.5, 1))] = col(
        "Growth of the tariff in a year", 0.0
    )
    years: Years = col("Years that are counted", 5)
    discount: Annotated[float, AfterValidator(Unit("", -0.2, 1))] = col(
        "Discount rate a year", 0.0
    )
    terms: tuple[Term, ...] = col(
        "Terms that count", ("purchase", "energy", "wear", "cache wear")
    )
    resale_fraction: Share = col("Share of the price got back at the end", 0.0)
    carbon_g_per_kwh: Annotated[float, AfterValidator(Unit("g", 0, 2000))] | None = col(
        "Grams of carbon dioxide of a kWh", None
    )
    currency: str = col("Currency; blank = the catalog's", "")

    @model_validator(mode="after")
    def _some_tariff(self) -> "Money":
        if self.tariff_per_kwh is not None:
            return self
        if not self.bands:
            problem = "is missing"
            remedy = (
                "Give the price of a kWh: tariff_per_kwh = 0.3, or [[money.bands]]."
            )
            raise clash(key="tariff_per_kwh", problem=problem, remedy=remedy)
        gap = self._uncovered()
        if gap:
            problem = f"leave hours without a price, the first on {gap}"
            remedy = "Give tariff_per_kwh for the hours outside all bands."
            raise clash(key="bands", problem=problem, remedy=remedy)
        return self

    def _uncovered(self) -> str:
        """Return the first hour of the week that has no price, or nothing."""
        for day, name in enumerate(DAYS):
            for hour in range(24):
                if self.price_at(day, hour) is None:
                    return f"{name} at {hour:02d}:00"
        return ""

    def price_at(self, day: int, hour: int) -> float | None:
        """Return the price in one hour (day 0 is Monday); the last band that fits."""
        price = self.tariff_per_kwh
        for band in self.bands:
            if band.days != "all" and (band.days == "weekend") != (day >= 5):
                continue
            start, end, middle = band.from_hour, band.to_hour, hour + 0.5
            inside = (
                start <= middle < end
                if start < end
                else middle >= start or middle < end
            )
            if inside:
                price = band.price_per_kwh
        return price

    def prices_by_hour(self) -> tuple[float, ...]:
        """Return the mean price of each hour of day over a week. [per kWh].

        Scheduled blocks fall on every day alike and reads on every hour alike, so
        that the mean over weekdays is exact.
        """
        return tuple(
            sum(self.price_at(day, hour) or 0.0 for day in range(7)) / 7
            for hour in range(24)
        )


class Choices(Record):
    """What the planner may choose from."""

    layouts: tuple[Layout, ...] = col(
        "Array layouts", ("independent", "striped", "pairs", "striped pairs")
    )
    write_modes: tuple[WriteMode, ...] = col(
        "Write modes of parity", ("read-modify-write", "reconstruct", "plain")
    )
    caches: tuple[CacheKind, ...] = col(
        "Cache arrangements", ("none", "single", "mirror")
    )
    timeouts_min: tuple[Annotated[float, AfterValidator(Unit("min", 1, 1440))], ...] = (
        col("Spin-down timeouts in minutes", TIMEOUTS_MIN)
    )
    allow_never: bool = col("Drives may be left spinning", default=True)
    allow_multipliers: bool = col("Port multipliers are allowed", default=False)
    erase_late: bool = col(
        "Originals are kept until their room is needed, at no purchase", default=True
    )
    sequential_wake_verified: bool = col(
        "Seen to wake drives one after the other", default=False
    )
    aim: Aim = col("What is made best", "total cost")


class OwnedPart(Record):
    """A part that is there already, with its history."""

    id: str = col("A catalog id, or a name for a part written in place")
    count: Annotated[int, AfterValidator(Unit("", 1, 100))] = col("How many", 1)
    part: CatalogPart | None = col("The part, where it is written in place", None)
    replacement_price: Price | None = col("Price of a new one; blank = catalog", None)
    age_years: Annotated[float, AfterValidator(Unit("years", 0, 30))] = col("Age", 0.0)
    hours: Annotated[float, AfterValidator(Unit("h", 0, 300_000))] = col(
        "Power-on hours", 0.0
    )
    starts: Annotated[float, AfterValidator(Unit("", 0, 1_000_000))] = col(
        "Start/stop cycles so far", 0.0
    )
    pending_sectors: Annotated[int, AfterValidator(Unit("", 0, 10**9))] = col(
        "Sectors that wait for reallocation", 0
    )
    reallocated_sectors: Annotated[int, AfterValidator(Unit("", 0, 10**9))] = col(
        "Sectors reallocated", 0
    )
    hidden_sectors: Annotated[int, AfterValidator(Unit("", 0, 10**11))] = col(
        "Sectors hidden at the end of the drive", 0
    )
    batch: str = col("Batch, to see drives that may fail together", "")
    holds_data: bool | None = col("Holds data; blank counts as full", None)
    held_tb: Annotated[float, AfterValidator(Unit("TB", 0, 1000))] | None = col(
        "Data on each piece [TB]; blank = full, unless holds_data says no", None
    )
    second_copy: bool = col(
        "All that it holds lies a second time outside of this machine", default=False
    )
    second_copy_on: str = col(
        "Where that second copy is: id of an owned drive, or words", ""
    )
    bring_back: bool = col(
        "Files with a second copy come onto the new array; false = they stay there alone",
        default=True,
    )
    trust_pending: bool = col(
        "May hold the only copy for some steps though sectors are pending",
        default=False,
    )
    serials: tuple[str, ...] = col(
        "Last digits of each piece's serial number, as on its label", ()
    )
    sits_in: SitsIn | None = col(
        "Where it is now; another machine = one that runs and can be read over the "
        "network; blank = this machine if the chassis is owned, else loose",
        None,
    )
    old_array: str = col(
        "Old array that it is a member of: its members are emptied together", ""
    )
    array_role: Literal["data", "parity", ""] = col(
        "What it is in the old array: a parity drive holds no files, and is kept as long "
        "as the array is needed",
        "",
    )
    array_members: Annotated[int, AfterValidator(Unit("", 1, 100))] | None = col(
        "Members of the old array in all; blank = those listed, if more than one", None
    )
    array_may_miss: Annotated[int, AfterValidator(Unit("", 0, 10))] = col(
        "Members of the old array that may be missing while it is read", 0
    )

    @model_validator(mode="after")
    def _held_or_not(self) -> "OwnedPart":
        if self.holds_data is False and self.held_tb:
            problem = f"is {self.held_tb:g}, and holds_data says that there is nothing"
            raise clash(key="held_tb", problem=problem, remedy="Delete one of the two.")
        if self.holds_data and self.held_tb == 0:
            problem = "is 0, and holds_data says that there is something"
            remedy = "State what it holds; blank counts as full."
            raise clash(key="held_tb", problem=problem, remedy=remedy)
        if self.array_role == "parity" and self.held_tb:
            problem = f"is {self.held_tb:g}, and a parity drive holds no files"
            raise clash(key="held_tb", problem=problem, remedy="Delete one of the two.")
        if len(self.serials) > self.count:
            problem = f"are {len(self.serials)}, for {self.count} of them"
            raise clash(key="serials", problem=problem, remedy="One for each piece.")
        return self

    @property
    def holds_nothing(self) -> bool:
        """Return whether it is said to hold no files; it can be of an old array still."""
        is_parity = bool(self.old_array) and self.array_role == "parity"
        return self.holds_data is False or self.held_tb == 0 or is_parity


class SpareParts(Record):
    """Parts bought to lie on the shelf."""

    id: str = col("A catalog id")
    count: Annotated[int, AfterValidator(Unit("", 1, 100))] = col("How many", 1)


class Scenario(Record):
    """One question to the planner."""

    file_only: ClassVar[tuple[str, ...]] = ("parts", "measured")
    """Keys that a file may have besides: they are resolved while it is read."""

    format: Literal[1] = col("Format version of the file", 1)
    name: str = col("Name of the scenario", "")
    about: str = col("What it is about", "")
    catalogs: tuple[str, ...] = col("Catalogs in order, later ones win", ("invented",))
    needs: Needs = Field(description="What it must do, at least usable_tb")
    limits: Limits = Field(default_factory=Limits, description="Limits")
    usage: Usage = Field(default_factory=Usage, description="Usage")
    off_hours: OffHours = Field(default_factory=OffHours, description="Off hours")
    money: Money = Field(description="What things cost, at least tariff_per_kwh")
    choices: Choices = Field(default_factory=Choices, description="Choices")
    owned: tuple[OwnedPart, ...] = col("Parts that are there already", ())
    ban: tuple[str, ...] = col(
        "Ruled out: ids, patterns such as hdd-*, or class:NAME, kind:NAME, "
        "feature:shingled, feature:multiplier, feature:m2-controller",
        (),
    )
    insist: tuple[str, ...] = col("Insisted on: catalog or owned ids", ())
    spares: tuple[SpareParts, ...] = col("Spares to buy", ())
    overrides: Factors = Field(default_factory=Factors, description="Factors")

    @property
    def burst_gb(self) -> float:
        """Return the burst to take in at the ingest rate. [GB]."""
        if self.needs.burst_gb is None:
            return self.usage.ingest_gb_per_day
        return self.needs.burst_gb

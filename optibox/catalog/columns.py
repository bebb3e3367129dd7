"""Figures with bounds, units, and the base record that every kind builds on.

The records listed in ``optibox.catalog.kinds`` are the schema: a column's name, type,
unit, default and meaning stand in one field definition, from which reading,
checking, blank templates and the documentation are derived.
"""

import math
import re
from dataclasses import dataclass
from datetime import date
from typing import Annotated, Any, ClassVar, Literal

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field

Source = Literal["measured", "datasheet", "class default", "invented", "stated"]
Level = Literal["low", "mid", "high"]

_NUMBER = r"[+-]?\d+(?:\.\d+)?(?:[eE][+-]?\d+)?"
_RANGE = re.compile(rf"^({_NUMBER})\s*\.\.\s*({_NUMBER})$")
_MID_RANGE = re.compile(rf"^({_NUMBER})\s*\[\s*({_NUMBER})\s*\.\.\s*({_NUMBER})\s*\]$")


@dataclass(frozen=True, slots=True)
class Figure:
    """A number known within bounds: ``low <= mid <= high``, and where it is from."""

    low: float
    mid: float
    high: float
    source: Source = "stated"

    def __post_init__(self) -> None:
        if not all(map(math.isfinite, (self.low, self.mid, self.high))):
            msg = "is not a finite number; expected a number such as 4.1"
            raise ValueError(msg)
        if not self.low <= self.mid <= self.high:
            msg = "has bounds that do not enclose it; expected low <= value <= high"
            raise ValueError(msg)

    def at(self, level: Level) -> float:
        """Return the low, mid or high value."""
        return float(getattr(self, level))

    def __str__(self) -> str:
        """Return the cell text that reads back as this figure."""
        mid = number_text(self.mid)
        if self.low == self.mid == self.high:
            return mid
        return f"{mid} [{number_text(self.low)}..{number_text(self.high)}]"


def number_text(value: float) -> str:
    """Return the shortest text that reads back as exactly this number.

    Examples
    --------
    >>> number_text(4.0), number_text(0.1)
    ('4', '0.1')
    """
    short = f"{value:.12g}"
    return short if float(short) == value else repr(float(value))


def figure_from_text(text: str, source: Source = "stated") -> Figure:
    """Return the figure written in a cell: ``4.1``, ``3.8..4.5``, ``4.1 [3.8..4.5]``.

    Raises
    ------
    ValueError
        If the text is none of the three forms.

    Examples
    --------
    >>> figure_from_text("3.8..4.2").mid
    4.0
    """
    text = text.strip()
    if match := _MID_RANGE.match(text):
        mid, low, high = map(float, match.groups())
        return Figure(low, mid, high, source)
    if match := _RANGE.match(text):
        low, high = map(float, match.groups())
        return Figure(low, (low + high) / 2, high, source)
    if re.fullmatch(_NUMBER, text):
        value = float(text)
        return Figure(value, value, value, source)
    msg = "is not a number; expected 4.1, 3.8..4.5 or 4.1 [3.8..4.5]"
    raise ValueError(msg)


def as_figure(value: object) -> object:
    """Return ``value`` as a figure where it is a number or the text of one."""
    if isinstance(value, bool):
        return value
    if isinstance(value, int | float):
        return Figure(float(value), float(value), float(value))
    return figure_from_text(value) if isinstance(value, str) else value


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit and the range in which a figure is believable."""

    symbol: str
    lowest: float
    highest: float

    def __call__(self, value: Any) -> Any:  # noqa: ANN401 - figure, number or nothing
        """Return ``value`` if all of it lies within the believable range."""
        ends = (value.low, value.high) if isinstance(value, Figure) else (value,)
        for end in ends:
            if end is not None and not self.lowest <= end <= self.highest:
                msg = (
                    f"is outside the believable range; expected "
                    f"{self.lowest:g} to {self.highest:g} {self.symbol}".rstrip()
                )
                raise ValueError(msg)
        return value


def iso_day(text: str) -> str:
    """Return ``text`` if it is blank or a day such as 2026-01-31."""
    if text:
        try:
            return date.fromisoformat(text).isoformat()
        except ValueError:
            msg = "is not a day; expected the form 2026-01-31"
            raise ValueError(msg) from None
    return text


_F = BeforeValidator(as_figure)
Watts = Annotated[Figure, _F, AfterValidator(Unit("W", 0, 1500))]
Amps = Annotated[Figure, _F, AfterValidator(Unit("A", 0, 150))]
RateMbS = Annotated[Figure, _F, AfterValidator(Unit("MB/s", 1, 20_000))]
GbS = Annotated[Figure, _F, AfterValidator(Unit("GB/s", 0.001, 100))]
Fraction = Annotated[Figure, _F, AfterValidator(Unit("", 0, 1))]
Seconds = Annotated[Figure, _F, AfterValidator(Unit("s", 0, 120))]
Joules = Annotated[Figure, _F, AfterValidator(Unit("J", 0, 5_000))]
Cycles = Annotated[Figure, _F, AfterValidator(Unit("cycles", 100, 10_000_000))]
Tbw = Annotated[Figure, _F, AfterValidator(Unit("TB", 1, 1_000_000))]
Price = Annotated[Figure, _F, AfterValidator(Unit("currency", 0, 100_000))]
Gigabit = Annotated[float, AfterValidator(Unit("Gb/s", 0.1, 400))]
Terabytes = Annotated[float, AfterValidator(Unit("TB", 0.001, 100))]
Gibibytes = Annotated[float, AfterValidator(Unit("GiB", 0.25, 4096))]
Millimetres = Annotated[float, AfterValidator(Unit("mm", 1, 1000))]
Metres = Annotated[float, AfterValidator(Unit("m", 0.01, 200))]
Gauge = Annotated[int, AfterValidator(Unit("AWG", 8, 30))]
Count = Annotated[int, AfterValidator(Unit("", 0, 1000))]
Lanes = Annotated[int, AfterValidator(Unit("lanes", 0, 256))]
Generation = Annotated[int, AfterValidator(Unit("", 1, 6))]
YesNo = bool
Known = Literal["yes", "no", "unknown"]


class Record(BaseModel):
    """A frozen record that refuses unknown fields."""

    model_config = ConfigDict(
        frozen=True, extra="forbid", str_strip_whitespace=True, allow_inf_nan=False
    )


class Part(Record):
    """What every kind has: who it is, what it costs, where it is sold."""

    kind: ClassVar[str] = ""
    headline: ClassVar[tuple[str, ...]] = ()
    """The columns that a blank template shows: what distinguishes the part."""

    id: str = Field(
        description="Unique within one catalog; letters, digits, dot, dash, underscore",
        pattern=r"^[A-Za-z0-9][A-Za-z0-9._-]*$",
        max_length=60,
    )
    part_class: str = Field(default="", description="Class whose figures fill blanks")
    price: Price = Field(description="Price of one pack, in the catalog's currency")
    price_date: Annotated[str, AfterValidator(iso_day)] = Field(
        default="", description="Day the price was seen, ISO form"
    )
    label: str = Field(default="", description="Name for people")
    pack: Annotated[int, AfterValidator(Unit("", 1, 1000))] = Field(
        default=1, description="Pieces in one pack"
    )
    stock: Count | None = Field(
        default=None, description="Packs to be had; blank = any"
    )
    seller: str = Field(default="", description="Who sells it; postage is per seller")
    order_code: str = Field(default="", description="The seller's code")
    link: str = Field(default="", description="Where the part is described")
    note: str = Field(default="", description="Carried to the order list")
    source: Source = Field(
        default="stated", description="Where this row's own figures come from"
    )
    comes_with: str = Field(
        default="", description="Part ids in the box: 'sata-data x2 | screws'"
    )
    extras: dict[str, str] = Field(
        default_factory=dict, description="Columns beginning x_, carried along"
    )
    defaulted: frozenset[str] = Field(
        default=frozenset(), description="Columns filled from the class"
    )

    @property
    def name(self) -> str:
        """Return what a person calls the part."""
        return self.label or self.id

    @property
    def idle_dc_w(self) -> float:
        """Return the power drawn while idle. [W DC]."""
        figure: Figure | None = getattr(self, "idle_w", None)
        return figure.mid if figure else 0.0

    @property
    def active_dc_w(self) -> float:
        """Return the power drawn while working, at least the idle power. [W DC]."""
        figure: Figure | None = getattr(self, "active_w", None)
        return max(figure.mid, self.idle_dc_w) if figure else self.idle_dc_w


def col(meaning: str, default: Any = ...) -> Any:  # noqa: ANN401 - pydantic's Field
    """Return the definition of one column: its meaning and its cautious default."""
    return Field(default=default, description=meaning)

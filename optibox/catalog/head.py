"""The head of a catalog folder: ``catalog.toml``."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path
from typing import Any

from optibox.catalog.nearest import nearest
from optibox.errors import Fault
from optibox.files import line_of_key, parse_toml, read_text

HEAD_FILE = "catalog.toml"
KEYS = ("format", "name", "currency", "date", "invented", "notes", "postage")

_MOST_POSTAGE = 100_000
_LONGEST_CURRENCY = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """What a catalog says about all of its rows."""

    name: str
    currency: str = ""
    day: date | None = None
    is_invented: bool = False
    notes: str = ""
    postage: dict[str, float] = field(default_factory=dict)
    """Postage per seller and order. [currency]"""


def read_head(folder: Path) -> tuple[Head, list[Fault]]:
    """Return the head of a catalog folder and everything wrong with it.

    Raises
    ------
    InputError
        If the file cannot be read or is not TOML.
    """
    path = folder / HEAD_FILE
    if not path.exists():
        return Head(name=folder.name), []
    text = read_text(path)
    return _Reader(path, text, parse_toml(path, text)).head(folder.name)


class _Reader:
    """Takes keys out of the table and notes what is wrong with them."""

    def __init__(self, path: Path, text: str, table: Mapping[str, Any]) -> None:
        self.path, self.text, self.table = path, text, table
        self.faults: list[Fault] = []

    def head(self, default_name: str) -> tuple[Head, list[Fault]]:
        for key in self.table:
            if key not in KEYS:
                self.fault(key, "is not a key of a catalog's head", nearest(key, KEYS))
        head = Head(
            name=self._text("name") or default_name,
            currency=self._currency(),
            day=self._day(),
            is_invented=self._invented(),
            notes=self._text("notes"),
            postage=self._postage(),
        )
        return head, self.faults

    def fault(self, key: str, problem: str, remedy: str, value: object = "") -> None:
        self.faults.append(
            Fault(
                path=str(self.path),
                line=line_of_key(self.text, key.rpartition(".")[2]),
                field=key,
                value=str(value),
                problem=problem,
                remedy=remedy,
            )
        )

    def _text(self, key: str) -> str:
        value = self.table.get(key, "")
        if isinstance(value, str):
            return value.strip()
        self.fault(key, "is not text", f'Write {key} = "...".', value)
        return ""

    def _currency(self) -> str:
        value = self._text("currency")
        if len(value) > _LONGEST_CURRENCY:
            problem = f"is longer than {_LONGEST_CURRENCY} characters"
            self.fault("currency", problem, "Write a code such as EUR.", value)
        return value

    def _day(self) -> date | None:
        value = self.table.get("date")
        if value is None:
            return None
        if isinstance(value, date) and not isinstance(value, datetime):
            return value
        try:
            return date.fromisoformat(value)
        except (TypeError, ValueError):
            remedy = "Write date = 2026-01-31."
            self.fault("date", "is not a day", remedy, value)
        return None

    def _invented(self) -> bool:
        value = self.table.get("invented", False)
        if isinstance(value, bool):
            return value
        remedy = "Write invented = true or invented = false."
        self.fault("invented", "is neither true nor false", remedy, value)
        return False

    def _postage(self) -> dict[str, float]:
        value = self.table.get("postage", {})
        if not isinstance(value, dict):
            remedy = "Write [postage], then a line per seller: shop-a = 5.9."
            self.fault("postage", "is not a table", remedy, value)
            return {}
        return {
            seller: float(amount)
            for seller, amount in value.items()
            if self._is_amount(seller, amount)
        }

    def _is_amount(self, seller: str, amount: object) -> bool:
        is_number = isinstance(amount, int | float) and not isinstance(amount, bool)
        if is_number and 0 <= amount <= _MOST_POSTAGE:  # type: ignore[operator]
            return True
        problem = f"is no postage; expected a number from 0 to {_MOST_POSTAGE}"
        remedy = "Write an amount such as 5.9."
        self.fault(f"postage.{seller}", problem, remedy, amount)
        return False

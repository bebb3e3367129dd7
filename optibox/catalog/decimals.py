"""Numbers as spreadsheets write them: decimal commas and thousands marks.

A comma is read as a decimal mark wherever it can be nothing else. ``1,500``
could be one and a half or fifteen hundred: it is read as the former only in a
file that shows elsewhere that it writes decimal commas, and refused otherwise.
In such a file ``1.500`` is refused for the same reason.
"""

import re
from collections.abc import Iterable

_TOKEN = re.compile(r"\d+(?:[.,]\d+)+")
_AMBIGUOUS = re.compile(r"[1-9]\d{0,2}[.,]\d{3}")
_GROUPED_COMMAS = re.compile(r"[1-9]\d{0,2}(?:,\d{3})+(?:\.\d+)?")
_GROUPED_DOTS = re.compile(r"[1-9]\d{0,2}(?:\.\d{3})+(?:,\d+)?")
_DECIMAL_COMMA = re.compile(r"\d+,\d+")


def shows_decimal_commas(cells: Iterable[str]) -> bool:
    """Return whether some number of a file can only have a decimal comma.

    Examples
    --------
    >>> shows_decimal_commas(["1,500", "4,1"])
    True
    >>> shows_decimal_commas(["1,500"])
    False
    """
    return any(
        _DECIMAL_COMMA.fullmatch(token) and not _AMBIGUOUS.fullmatch(token)
        for cell in cells
        for token in _TOKEN.findall(cell)
    )


def with_points(text: str, *, has_decimal_commas: bool = False) -> str:
    """Return the text with decimal points and without thousands marks.

    Raises
    ------
    ValueError
        If a number can be read in two ways.

    Examples
    --------
    >>> with_points("3,8..4,5")
    '3.8..4.5'
    >>> with_points("1.234,5")
    '1234.5'
    """
    return _TOKEN.sub(lambda m: _plain(m[0], has_decimal_commas), text)


def _plain(token: str, has_decimal_commas: bool) -> str:  # noqa: FBT001 - private
    if _AMBIGUOUS.fullmatch(token):
        return _three_digits(token, has_decimal_commas)
    if _DECIMAL_COMMA.fullmatch(token):
        return token.replace(",", ".")
    if _GROUPED_COMMAS.fullmatch(token):
        return token.replace(",", "")
    if _GROUPED_DOTS.fullmatch(token):
        return token.replace(".", "").replace(",", ".")
    return token


def _three_digits(token: str, has_decimal_commas: bool) -> str:  # noqa: FBT001 - private
    is_usual = ("," in token) == has_decimal_commas
    if is_usual:
        return token.replace(",", ".")
    whole, digits = re.split("[.,]", token)
    msg = (
        f"could mean {whole}.{digits} or {whole}{digits}; "
        f"expected a number that can be read in one way only"
    )
    raise ValueError(msg)

"""Drawings as trees: a tag, its attributes, its children; text stays text.

A tree is what the page's script builds nodes from and what becomes SVG text here, so
that no text of a catalog is ever read as markup.
"""

from collections.abc import Mapping
from html import escape
from typing import TypeAlias, Union

Attributes: TypeAlias = Mapping[str, str | float]
Shape: TypeAlias = list[Union[str, "dict[str, str | float]", "Shape"]]
"""``[tag, attributes, child, ...]``; a child is a shape or a text."""


def shape(
    tag: str, attributes: Attributes | None = None, *children: "Shape | str"
) -> Shape:
    """Return one node; numbers are rounded to a tenth of a pixel.

    Examples
    --------
    >>> shape("rect", {"x": 1.26, "class": "bay"})
    ['rect', {'x': 1.3, 'class': 'bay'}]
    """
    kept: dict[str, str | float] = {
        name: value if isinstance(value, str) else _short(value)
        for name, value in (attributes or {}).items()
    }
    return [tag, kept, *children]


def _short(value: float) -> float:
    rounded = round(value, 1)
    return int(rounded) if rounded == int(rounded) else rounded


def svg_text(node: Shape | str) -> str:
    """Return a tree as SVG text, everything in it escaped.

    Examples
    --------
    >>> svg_text(shape("text", {"x": 4.0}, "<script>"))
    '<text x="4">&lt;script&gt;</text>'
    """
    if isinstance(node, str):
        return escape(node)
    tag, attributes, *children = node
    shown = "".join(
        f' {name}="{escape(str(value))}"'
        for name, value in (attributes if isinstance(attributes, dict) else {}).items()
    )
    inside = "".join(
        svg_text(child) for child in children if isinstance(child, list | str)
    )
    return f"<{tag}{shown}>{inside}</{tag}>"

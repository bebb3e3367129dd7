"""A document as one HTML page without network, that prints on A4."""

from collections.abc import Iterator
from html import escape
from itertools import groupby

from optibox.report.document import (
    Blank,
    Block,
    Column,
    Document,
    Facts,
    Item,
    Items,
    Note,
    Row,
    Section,
    Table,
    Value,
    words_of,
)
from optibox.report.words import clean

_STYLE = """
@page { size: A4; margin: 12mm; }
* { box-sizing: border-box; }
:root { color-scheme: light dark; }
body { font: 10pt/1.35 sans-serif; margin: 0 auto; max-width: 186mm; padding: 4mm; }
h1 { font-size: 14pt; margin: 0 0 2mm; }
h2 { font-size: 11pt; margin: 4mm 0 1mm; border-bottom: 1px solid; }
p, ul, dl { margin: 0 0 1.5mm; }
ul { list-style: none; padding-left: 0; }
li { padding-left: 7mm; text-indent: -7mm; margin-bottom: 0.8mm; }
li b { display: inline-block; min-width: 7mm; text-indent: 0; }
li div { text-indent: 0; }
.strong { font-weight: bold; }
.caution { border-left: 3px solid; padding-left: 2mm; }
li.caution { padding-left: 9mm; }
.small { font-size: 8.5pt; opacity: 0.85; }
.wide { overflow-x: auto; }
dl { display: grid; grid-template-columns: max-content 1fr; gap: 0.5mm 4mm; }
dd { margin: 0; }
table { border-collapse: collapse; margin-bottom: 1.5mm; }
th, td { border-bottom: 1px solid #9996; padding: 0.8mm 1.5mm; text-align: left;
  vertical-align: top; }
th { border-bottom: 1px solid; vertical-align: bottom; white-space: pre-line; }
tr, li { break-inside: avoid; }
.n { text-align: right; white-space: nowrap; }
tr.note td { border-bottom: none; padding-top: 0; }
.box { display: inline-block; border: 1px solid; height: 7mm; width: 22mm;
  vertical-align: middle; }
@media print { body { max-width: none; padding: 0; } h2 { break-after: avoid; } }
"""


def as_html(document: Document) -> str:
    """Return a document as a self-contained page."""
    title = _e(document.title or document.verdict[0])
    body = "\n".join(_body(document))
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{title}</title>\n<style>{_STYLE}</style>\n</head>\n<body>\n<main>\n"
        f"{body}\n</main>\n</body>\n</html>\n"
    )


def _body(document: Document) -> Iterator[str]:
    head, *more = (document.title, *document.verdict) if document.title else (
        document.verdict
    )  # fmt: skip
    yield f"<h1>{_e(head)}</h1>"
    yield from (f'<p class="strong">{_e(text)}</p>' for text in more if text != head)
    for part in (*document.lead, *document.sections):
        if isinstance(part, Section):
            yield f"<h2>{_e(part.title)}</h2>"
            for block in part.blocks:
                yield from _block(block)
        else:
            yield from _block(part)
    for block in document.end:
        yield from _block(block)


def _e(text: str) -> str:
    """Return text for a page, with the proper sign for plus or minus."""
    return escape(clean(text)).replace("+-", "\N{PLUS-MINUS SIGN}")


def _block(block: Block) -> Iterator[str]:
    match block:
        case Note():
            if block.text:
                yield f'<p class="{block.tone}">{_e(block.text)}</p>'
        case Items():
            yield "<ul>"
            yield from (_item(item) for item in block.items)
            yield "</ul>"
        case Facts():
            yield f'<dl class="{block.tone}">'
            for name, value in block.facts:
                yield f"<dt>{_e(name)}</dt><dd>{_value(value)}</dd>"
            yield "</dl>"
        case Table():
            yield from _table(block)


def _item(item: Item) -> str:
    mark = f"<b>{_e(item.mark)}</b> " if item.mark else ""
    details = "".join(f'<div class="small">{_e(text)}</div>' for text in item.details)
    return f'<li class="{item.tone}">{mark}{_e(item.text)}{details}</li>'


def _value(value: Value, column: Column | None = None) -> str:
    if isinstance(value, Blank):
        return f'<span class="box"></span> {_e(value.unit)}'.rstrip()
    return _e(words_of(value, column.unit if column else None))


def _table(table: Table) -> Iterator[str]:
    shown = [(n, column) for n, column in enumerate(table.columns) if column.is_shown]
    yield '<div class="wide"><table>'
    if any(column.head for _, column in shown):
        heads = "".join(f"<th{_right(c)}>{_head(c)}</th>" for _, c in shown)
        yield f"<thead><tr>{heads}</tr></thead>"
    yield "<tbody>"
    for group, rows in groupby(table.rows, key=lambda row: row.group):
        if group:
            yield f'<tr><th colspan="{len(shown)}">{_e(group)}</th></tr>'
        for row in rows:
            yield from _row(row, shown)
    yield "</tbody></table></div>"


def _row(row: Row, shown: list[tuple[int, Column]]) -> Iterator[str]:
    cells = "".join(f"<td{_right(c)}>{_value(row.cells[n], c)}</td>" for n, c in shown)
    yield f'<tr class="{"note " if row.note else ""}{row.tone}">{cells}</tr>'
    if row.note:
        yield f'<tr><td></td><td class="small" colspan="{len(shown) - 1}">'
        yield f"{_e(row.note)}</td></tr>"


def _right(column: Column) -> str:
    return ' class="n"' if column.is_right or column.unit is not None else ""


def _head(column: Column) -> str:
    lines = [*column.head.split("\n"), column.unit.symbol if column.unit else ""]
    return "\n".join(_e(line) for line in lines if line)

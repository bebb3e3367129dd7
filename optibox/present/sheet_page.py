"""A measuring sheet as one HTML page that prints on one or two A4 sheets."""

from collections.abc import Iterator
from html import escape

from optibox.measure.sheet import Sheet
from optibox.present.sheet_words import (
    AT_END,
    BEFORE,
    HOW_POWER,
    HOW_RATES,
    head,
    left_out,
    step_words,
    test_words,
    title,
)

_STYLE = """
@page { size: A4; margin: 12mm; }
* { box-sizing: border-box; }
body { font: 10pt/1.3 sans-serif; color: #000; background: #fff; margin: 0 auto;
  max-width: 186mm; padding: 4mm 0; }
h1 { font-size: 14pt; margin: 0 0 2mm; }
h2 { font-size: 11pt; margin: 4mm 0 1mm; border-bottom: 1px solid #000; }
p { margin: 0 0 1.5mm; }
ul { margin: 0; padding-left: 5mm; }
.caution { border: 2px solid #000; padding: 2mm 3mm; margin: 2mm 0; }
.caution strong { display: block; }
table { border-collapse: collapse; width: 100%; }
th, td { border-bottom: 1px solid #999; padding: 1mm 1.5mm; text-align: left;
  vertical-align: top; }
th { font-weight: bold; border-bottom: 1px solid #000; }
tr { break-inside: avoid; }
td.n, th.n { text-align: right; white-space: nowrap; }
td.box { width: 26mm; }
td.box span { display: block; border: 1px solid #000; height: 7mm; }
.small { font-size: 8.5pt; color: #333; }
.fields { display: grid; grid-template-columns: repeat(3, 1fr); gap: 3mm; margin: 2mm 0; }
.fields div { border-bottom: 1px solid #000; padding-top: 5mm; font-size: 8.5pt; }
@media print { body { max-width: none; padding: 0; } h2 { break-after: avoid; } }
"""
_FIELDS = (
    "date, hands",
    "meter, outlet",
    "steps of the display, W",
    "same reading again differs by, W",
    "minutes there are",
    "other end alone, MB/s",
)


def sheet_page(sheet: Sheet, *, is_assumed: bool = False) -> str:
    """Return a sheet as a self-contained page."""
    heading = escape(title(sheet))
    body = "\n".join(_body(sheet, is_assumed=is_assumed))
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{heading}</title>\n<style>{_STYLE}</style>\n</head>\n<body>\n"
        f"<h1>{heading}</h1>\n{body}\n</body>\n</html>\n"
    )


def _body(sheet: Sheet, *, is_assumed: bool) -> Iterator[str]:
    yield '<div class="caution"><strong>Before you start</strong>'
    yield _list(BEFORE)
    yield "</div>"
    yield '<div class="fields">'
    yield from (f"<div>{escape(field)}</div>" for field in _FIELDS)
    yield "</div>"
    yield from (f"<p>{_e(text)}</p>" for text in head(sheet, is_assumed=is_assumed))
    yield "<h2>Wall readings, in this order</h2>"
    yield f"<p>{_e(HOW_POWER)}</p>"
    yield from _steps(sheet)
    if out := left_out(sheet):
        yield f'<p class="small">Not asked for: {_e("; ".join(out))}.</p>'
    if sheet.tests:
        yield "<h2>Transfer tests</h2>"
        yield f"<p>{_e(HOW_RATES)}</p>"
        yield from _tests(sheet)
    yield from _counters(sheet)
    yield f'<p class="caution">{_e(AT_END)}</p>'


def _e(text: str) -> str:
    """Return text for a page, with the proper sign for plus or minus."""
    return escape(text).replace("+-", "\N{PLUS-MINUS SIGN}")


def _list(texts: tuple[str, ...]) -> str:
    return "<ul>" + "".join(f"<li>{_e(text)}</li>" for text in texts) + "</ul>"


def _steps(sheet: Sheet) -> Iterator[str]:
    yield "<table><thead><tr><th class=n>#</th><th>Do</th><th>State</th>"
    yield "<th class=n>Expected</th><th>Measured, W</th><th class=n>Time</th></tr></thead>"
    yield "<tbody>"
    for step in step_words(sheet):
        yield (
            f"<tr><td class=n>{step.number}</td><td>{_e(step.action)}"
            f'<div class="small">{_e(step.tells)}</div></td><td>{_e(step.state)}</td>'
            f"<td class=n>{_e(step.expected)}</td><td class=box><span></span></td>"
            f"<td class=n>{_e(step.minutes)}</td></tr>"
        )
    yield "</tbody></table>"


def _tests(sheet: Sheet) -> Iterator[str]:
    yield "<table><thead><tr><th class=n>#</th><th>Do</th><th class=n>Size</th>"
    yield "<th class=n>Expected</th><th>Measured, MB/s</th></tr></thead><tbody>"
    for test in test_words(sheet):
        yield (
            f"<tr><td class=n>{test.number}</td><td>{_e(test.what)}"
            f'<div class="small">{_e(test.purpose)}; expected to bind: '
            f"{_e(test.binds)}</div></td><td class=n>{_e(test.size)}</td>"
            f"<td class=n>{_e(test.expected)}</td><td class=box><span></span></td></tr>"
        )
    yield "</tbody></table>"


def _counters(sheet: Sheet) -> Iterator[str]:
    """Yield boxes for what drives count themselves."""
    if not sheet.machine.array:
        return
    names = ("starts", "hours", "pending", "reallocated", "link errors")
    yield "<h2>What the drives count</h2>"
    head_cells = "".join(f"<th>{name}</th>" for name in names)
    yield f"<table><thead><tr><th>Drive</th>{head_cells}</tr></thead><tbody>"
    boxes = "<td class=box><span></span></td>" * len(names)
    for drive in sheet.machine.array:
        yield f"<tr><td>{_e(drive.name)}</td>{boxes}</tr>"
    yield "</tbody></table>"

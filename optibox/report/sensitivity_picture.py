"""Which inputs change the decision, as a picture: one strip for each input.

A strip runs from low to high; its pieces carry the letter of the machine that is best
there, so that nothing depends on colour.
"""

import io
from typing import TYPE_CHECKING, Any

import matplotlib as mpl
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from optibox.report.sensitivity import LETTERS, SensitivityReport, input_words
from optibox.report.text import wrapped
from optibox.running.sensitivity import Effect

if TYPE_CHECKING:
    from matplotlib.axes import Axes

WIDTH_IN, ROW_IN, DPI = 9.0, 0.62, 150
LINE_IN = 0.19
GREYS = ("0.92", "0.76", "0.60", "0.84", "0.68", "0.52")
"""Shades of the machines by their letters, told apart in print as well."""

_TEXT_COLUMNS = 110
_BAR = 0.56
SETTINGS: Any = {
    "font.size": 9,
    "svg.hashsalt": "optibox",
    "svg.fonttype": "none",
}


def sensitivity_picture(report: SensitivityReport, form: str, note: str = "") -> bytes:
    """Return the strips as a picture.

    Parameters
    ----------
    report : SensitivityReport
        What to show.
    form : str
        ``svg`` or ``png``.
    note : str
        Where the figures are from.
    """
    legend = [
        line
        for option in report.options
        for line in wrapped(
            f"{report.letter(option)}: {report.describe(option)}", _TEXT_COLUMNS
        )
    ]
    legend += wrapped(note, _TEXT_COLUMNS) if note else []
    title = wrapped(report.verdict(), _TEXT_COLUMNS)
    effects = report.shown
    plot_in = ROW_IN * len(effects)
    top_in = LINE_IN * (len(title) + 1)
    foot_in = LINE_IN * (len(legend) + 1)
    height = plot_in + top_in + foot_in
    with mpl.rc_context(SETTINGS):
        figure = Figure(figsize=(WIDTH_IN, height))
        FigureCanvasAgg(figure)
        axes = figure.add_axes((0.23, foot_in / height, 0.74, plot_in / height))
        _strips(report, axes)
        figure.text(0.02, 1 - LINE_IN / height / 2, "\n".join(title), va="top")
        figure.text(0.02, LINE_IN / height / 2, "\n".join(legend), va="bottom")
        out = io.BytesIO()
        meta = {"Date": None} if form == "svg" else {}
        figure.savefig(out, format=form, dpi=DPI, metadata=meta)
    return out.getvalue()


def _strips(report: SensitivityReport, axes: "Axes") -> None:
    for row, effect in enumerate(report.shown):
        _strip(report, axes, row, effect)
    axes.set_xlim(-1, 1)
    axes.set_ylim(len(report.shown) - 0.5, -0.62)
    axes.set_yticks(
        range(len(report.shown)),
        [input_words(effect.name) for effect in report.shown],
    )
    axes.set_xticks([])
    axes.axvline(0.0, color="0.2", linewidth=0.8, linestyle=":")
    for side in axes.spines.values():
        side.set_visible(False)
    axes.tick_params(length=0)


def _strip(report: SensitivityReport, axes: "Axes", row: int, effect: Effect) -> None:
    for stretch in effect.stretches:
        letter = report.letter(stretch.option)
        at = LETTERS.find(letter)
        shade = GREYS[at % len(GREYS)] if stretch.option else "1.0"
        width = stretch.end - stretch.start
        axes.barh(
            row, width, _BAR, stretch.start, color=shade, edgecolor="0.2", linewidth=0.8
        )
        if width > 0.05:
            axes.text(stretch.start + width / 2, row, letter, ha="center", va="center")
    under = row + _BAR / 2 + 0.03
    for position, side in ((-1.0, "left"), (1.0, "right")):
        value = report.value(effect.name, position)
        axes.text(position, under, value, ha=side, va="top", fontsize=7)
    over = row - _BAR / 2 - 0.02
    for flip in effect.flips:
        value = report.value(effect.name, flip)
        side = "left" if flip < -0.9 else "right" if flip > 0.9 else "center"
        axes.text(flip, over, value, ha=side, va="bottom", fontsize=7)

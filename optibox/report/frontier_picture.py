"""A frontier as a picture: rows as points with their numbers, readable in print.

Nothing depends on colour alone: the third axis is told by the size of a point, by its
grey and by words at the rows that matter.
"""

import io
from typing import TYPE_CHECKING, Any

import matplotlib as mpl
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.transforms import Bbox

from optibox.criteria import Criterion
from optibox.frontier.records import Frontier, Row
from optibox.report.frontier import proof_words, unit_of
from optibox.report.quantity import number
from optibox.report.text import wrapped

if TYPE_CHECKING:
    from matplotlib.axes import Axes

WIDTH_IN, HEIGHT_IN, DPI = 9.0, 6.0, 150
SMALLEST, LARGEST = 45.0, 260.0
"""Areas of points. [pt^2]"""
_PLACES = (
    (9, 6, "left"),
    (9, -13, "left"),
    (-9, 6, "right"),
    (-9, -13, "right"),
    (0, 12, "center"),
    (0, -19, "center"),
    (16, 16, "left"),
    (16, -24, "left"),
    (-16, 16, "right"),
    (-16, -24, "right"),
    (26, 0, "left"),
    (-26, 0, "right"),
    (30, 30, "left"),
    (30, -36, "left"),
    (-30, 30, "right"),
    (-30, -36, "right"),
)
"""Where a label may stand beside its point, in order of liking. [pt]"""
SETTINGS: Any = {
    "font.size": 9,
    "svg.hashsalt": "optibox",
    "svg.fonttype": "none",
    "axes.spines.top": False,
    "axes.spines.right": False,
}


def picture(frontier: Frontier, currency: str, form: str, note: str = "") -> bytes:
    """Return the rows as a picture.

    Parameters
    ----------
    frontier : Frontier
        With at least one row.
    currency : str
        Of the money.
    form : str
        ``png`` or ``svg``.
    note : str
        Where the figures are from; stands below.
    """
    with mpl.rc_context(SETTINGS):
        figure = _figure(frontier, currency)
        if note:
            figure.supxlabel(note, x=0.01, ha="left", fontsize=7, color="0.3")
        out = io.BytesIO()
        # without a date the same rows give the same file
        metadata = {"Date": None} if form == "svg" else {"Software": None}
        figure.savefig(out, format=form, dpi=DPI, metadata=metadata)
    return out.getvalue()


def _figure(frontier: Frontier, currency: str) -> Figure:
    figure = Figure(figsize=(WIDTH_IN, HEIGHT_IN), layout="constrained")
    FigureCanvasAgg(figure)
    axes = figure.add_subplot()
    across, up = frontier.axes[0], frontier.axes[1]
    axes.set_xlabel(_axis_title(across, currency))
    axes.set_ylabel(_axis_title(up, currency))
    title = wrapped(proof_words(frontier, currency), 95)
    axes.set_title("\n".join(title), loc="left", fontsize=9)
    axes.grid(color="0.9", linewidth=0.6)
    axes.set_axisbelow(True)
    axes.margins(0.12, 0.14)
    if len(frontier.axes) == 2:
        _stairs(axes, frontier)
    _points(axes, frontier)
    _labels(figure, axes, frontier, currency)
    if len(frontier.axes) == 3:
        _sizes(axes, frontier, currency)
    return figure


def _axis_title(axis: Criterion, currency: str) -> str:
    better = "more is better" if axis.is_maximised else "less is better"
    return f"{axis.label} [{unit_of(axis, currency)}], {better}"


def _stairs(axes: "Axes", frontier: Frontier) -> None:
    """Draw the border beyond which nothing is, where there are two axes."""
    where: Any = "pre" if frontier.axes[0].is_maximised else "post"
    across, up = zip(*(row.values for row in frontier.rows), strict=True)
    axes.step(across, up, where=where, color="0.6", linewidth=1.0, zorder=1)


def _points(axes: "Axes", frontier: Frontier) -> None:
    for row in frontier.rows:
        share = _share(frontier, row)
        axes.scatter(
            [row.values[0]],
            [row.values[1]],
            s=(SMALLEST + share * (LARGEST - SMALLEST)) * (2.2 if row.is_plan else 1),
            marker="*" if row.is_plan else "o",
            color=str(0.78 - 0.6 * share),
            edgecolors="black",
            linewidths=1.0 if row.is_plan else 0.8,
            zorder=3,
        )


def _share(frontier: Frontier, row: Row) -> float:
    """Return where a row lies on the third axis between the worst and the best."""
    if len(frontier.axes) < 3:
        return 0.4
    sign = frontier.axes[2].sign
    values = [sign * r.values[2] for r in frontier.rows]
    worst, best = max(values), min(values)
    return (worst - sign * row.values[2]) / ((worst - best) or 1.0)


def _sizes(axes: "Axes", frontier: Frontier, currency: str) -> None:
    """Say what the size of a point means, by the worst and the best row."""
    third = frontier.axes[2]
    rows = sorted(frontier.rows, key=lambda row: _share(frontier, row))
    marks = []
    for row in (rows[0], rows[-1]):
        share = _share(frontier, row)
        marks.append(
            axes.scatter(
                [],
                [],
                s=SMALLEST + share * (LARGEST - SMALLEST),
                color=str(0.78 - 0.6 * share),
                edgecolors="black",
                linewidths=0.8,
                label=_amount(third, row.values[2], currency),
            )
        )
    axes.legend(handles=marks, title=third.label, loc="best", frameon=False)


def _amount(axis: Criterion, value: float, currency: str) -> str:
    return f"{number(value, axis.decimals)} {unit_of(axis, currency)}"


def _labels(figure: Figure, axes: "Axes", frontier: Frontier, currency: str) -> None:
    """Label each point, those that matter in words, none over another one."""
    figure.draw_without_rendering()
    taken = [_around(axes, row) for row in frontier.rows]
    order = sorted(frontier.rows, key=lambda row: (not row.matters, row.number))
    for row in order:
        text = _label(frontier, row, currency)
        taken.append(_place(figure, axes, row, text, taken))


def _label(frontier: Frontier, row: Row, currency: str) -> str:
    text = str(row.number)
    if row.matters and len(frontier.axes) == 3:
        text += f": {_amount(frontier.axes[2], row.values[2], currency)}"
    return f"{text} (plan)" if row.is_plan else text


def _around(axes: "Axes", row: Row) -> Any:  # noqa: ANN401 - a box of matplotlib
    across, up = axes.transData.transform(row.values[:2])
    return Bbox.from_extents(across - 9, up - 9, across + 9, up + 9)


def _place(figure: Figure, axes: "Axes", row: Row, text: str, taken: list[Any]) -> Any:  # noqa: ANN401 - a box of matplotlib
    """Put a label where it covers least; return the box it takes."""
    renderer = figure.canvas.get_renderer()  # type: ignore[attr-defined]
    best: tuple[float, Any, Any] | None = None
    frame = axes.get_window_extent(renderer)
    for across, up, side in _PLACES:
        note = axes.annotate(
            text,
            (row.values[0], row.values[1]),
            xytext=(across, up),
            textcoords="offset points",
            ha=side,
            fontsize=9 if row.matters else 8,
            fontweight="bold" if row.is_plan else "normal",
            zorder=4,
            arrowprops={"arrowstyle": "-", "color": "0.5", "linewidth": 0.6}
            if abs(across) > 12
            else None,
        )
        box = note.get_window_extent(renderer)
        covered = sum(_common(box, other) for other in taken)
        covered += box.width * box.height - _common(box, frame)
        if best is not None and covered >= best[0]:
            note.remove()
            continue
        if best is not None:
            best[1].remove()
        best = (covered, note, box)
        if covered == 0:
            break
    return best[2] if best else frame


def _common(one: Any, other: Any) -> float:  # noqa: ANN401 - boxes of matplotlib
    """Return the area that two boxes have in common. [px^2]."""
    width = min(one.x1, other.x1) - max(one.x0, other.x0)
    height = min(one.y1, other.y1) - max(one.y0, other.y0)
    return float(width * height) if width > 0 and height > 0 else 0.0

"""What the command line says about a frontier, checked: all faults come together."""

from collections.abc import Iterator
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path

from optibox.catalog.nearest import nearest
from optibox.criteria import AXES
from optibox.errors import Fault, InputError
from optibox.frontier.compute import Wanted

PICTURES = (".png", ".svg")
LEAST_PERCENT, MOST_PERCENT = 0.1, 100.0
_SHORT = {"total": "total cost"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Options:
    """Options as they were typed."""

    axes: str
    cover: str | None
    is_exact: bool
    rows: int
    resolution: str | None
    picture: Path | None
    has_breaks: bool
    time_limit_s: float | None


def wanted_of(options: Options) -> Wanted:
    """Return what is asked for.

    Raises
    ------
    InputError
        With every fault of the options.
    """
    names = [_axis_name(name) for name in options.axes.split(",") if name.strip()]
    faults = [*_axis_faults(options.axes, names), *_picture_faults(options.picture)]
    steps: dict[str, float] = {}
    factor = None
    try:
        steps = _steps(options.resolution, names)
    except InputError as error:
        faults += error.faults
    try:
        factor = _factor(options.cover, is_exact=options.is_exact)
    except InputError as error:
        faults += error.faults
    if faults:
        raise InputError(faults)
    return Wanted(
        axes=tuple(AXES[name].name for name in names),
        mode="exact" if options.is_exact else "cover",
        most=options.rows,
        factor=factor,
        resolution=steps,
        time_limit_s=options.time_limit_s,
        has_tariffs=options.has_breaks,
    )


def _axis_name(text: str) -> str:
    name = text.strip().lower().replace("-", " ")
    return _SHORT.get(name, name)


def _axis_faults(text: str, names: list[str]) -> Iterator[Fault]:
    for name in names:
        if name not in AXES:
            yield _fault(
                "--axes",
                name,
                f"is no axis; there are {', '.join(AXES)}",
                nearest(name, AXES),
            )
    if not 2 <= len(names) <= 3 or len(set(names)) < len(names):
        yield _fault(
            "--axes",
            text,
            "does not name two or three different axes",
            "For example: --axes purchase,running",
        )


def _steps(text: str | None, names: list[str]) -> dict[str, float]:
    steps: dict[str, float] = {}
    faults = []
    for piece in (text or "").split(","):
        if not piece.strip():
            continue
        name, equals, number = piece.partition("=")
        axis = _axis_name(name)
        step = _positive(number)
        if not equals or step is None:
            faults.append(
                _fault(
                    "--resolution",
                    piece.strip(),
                    "is not an axis with a positive step",
                    "For example: --resolution purchase=5,ingest=10",
                )
            )
        elif axis not in names:
            faults.append(
                _fault(
                    "--resolution",
                    name.strip(),
                    f"is none of the axes asked for ({', '.join(names)})",
                    nearest(axis, names),
                )
            )
        else:
            steps[axis] = step
    if faults:
        raise InputError(faults)
    return steps


def _factor(text: str | None, *, is_exact: bool) -> float | None:
    """Return the factor that a cover is to reach."""
    if text is None:
        return None
    if is_exact:
        raise InputError(
            [
                _fault(
                    "--cover",
                    text,
                    "stands beside --exact; the exact set leaves nothing to cover",
                    "Leave one of the two out.",
                )
            ]
        )
    percent = _positive(text.strip().removesuffix("%"))
    if percent is None or not LEAST_PERCENT <= percent <= MOST_PERCENT:
        raise InputError(
            [
                _fault(
                    "--cover",
                    text,
                    f"is not within {LEAST_PERCENT:g}% and {MOST_PERCENT:g}%",
                    "For example: --cover 1%",
                )
            ]
        )
    return 1 + percent / 100


def _positive(text: str) -> float | None:
    try:
        value = float(text)
    except ValueError:
        return None
    return value if 0 < value < float("inf") else None


def _picture_faults(path: Path | None) -> Iterator[Fault]:
    if path is None:
        return
    if path.suffix.lower() not in PICTURES:
        yield _fault(
            "--picture",
            str(path),
            f"does not end in {' or '.join(PICTURES)}",
            "Name the file after the form you want.",
        )
    if find_spec("matplotlib") is None:
        yield _fault(
            "--picture",
            str(path),
            "needs matplotlib, which is not installed",
            "pip install 'optibox[pictures]', or leave the option out.",
        )


def _fault(path: str, value: str, problem: str, remedy: str) -> Fault:
    return Fault(path=path, value=value, problem=problem, remedy=remedy)

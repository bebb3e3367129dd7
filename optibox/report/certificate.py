"""A second opinion in words, for those who have to defend what is bought, and as JSON."""

from collections.abc import Iterator
from typing import Any

from optibox.assess import Assessment
from optibox.certify.records import Certificate
from optibox.criteria import AIMS
from optibox.report.document import Note, Section, Tone, section
from optibox.report.words import counted


def certificate_section(told: Certificate, currency: str) -> tuple[Section, ...]:
    """Return the second opinion: its verdict, then what it is worth."""
    verdict, *rest = _paragraphs(told, currency)
    tone: Tone = "plain" if told.verdict == "certified" else "caution"
    return section("Second opinion", Note(verdict, tone), *map(Note, rest))


def _paragraphs(told: Certificate, currency: str) -> Iterator[str]:
    yield _verdict(told, currency)
    owned = f" and {counted(told.n_owned, 'owned piece')}" if told.n_owned else ""
    yield (
        f"What was done: one program over the whole catalog "
        f"({counted(told.n_parts, 'part')}{owned}, none left out beforehand) and "
        f"{counted(told.n_entries, 'way', 'ways')} to lay out and run it, solved by "
        f"{told.solver}; {counted(told.n_rounds, 'round')}, "
        f"{counted(told.n_judged, 'wiring')} judged by the evaluator, in "
        f"{told.seconds:.0f} s. It knows nothing of the planner's bounds, pruning, rows "
        f"and search."
    )
    if told.priced is not None and told.value is not None:
        yield (
            f"Not an empty claim: the answer itself stands in that program, which asks "
            f"at least {_value(told, told.priced, currency)} for it; no machine that "
            f"was judged cost less than the program said."
        )
    packages = sorted({name.rsplit(".", 1)[0] for name in told.shared})
    yield (
        "What it is: the same physics, another search. What is wrong in a rule or a "
        "coefficient is wrong in both; shared are "
        f"{counted(len(told.shared), 'function')} of {', '.join(packages)} "
        "(--format json lists them)."
    )
    yield "What the program has no rows for: " + "; ".join(told.unknown) + "."


def _verdict(told: Certificate, currency: str) -> str:
    if told.verdict == "certified":
        if told.value is None:
            return (
                "Certified: a second formulation and solver find no machine that meets "
                "all needs within all limits."
            )
        return (
            "Certified: a second formulation and solver find nothing better by more "
            f"than {_number(told, told.margin, currency)}."
        )
    if told.verdict == "counter-example" and told.better is not None:
        value = AIMS[told.aim].value_of(told.better)
        was = "that nothing fits"
        if told.value is not None:
            was = _number(told, told.value, currency)
        return (
            f"Refuted: the second formulation found a machine of "
            f"{_number(told, value, currency)}, the plan said {was}. It is shown above, "
            "not proven. Please report this: it is a defect of optibox."
        )
    if told.verdict == "void":
        return f"Void: {told.why}. Please report this: it is a defect of optibox."
    return (
        f"Not settled in {told.seconds:.0f} s: {told.n_settled} of "
        f"{told.n_entries} ways to lay out and run it are closed, and nothing better "
        "was found. The planner's own proof stands as it did; --certify-time gives "
        "more."
    )


def _number(told: Certificate, value: float, currency: str) -> str:
    aim = AIMS[told.aim]
    return f"{value:.2f} {currency if aim.is_money else aim.unit}".rstrip()


def _value(told: Certificate, value: float, currency: str) -> str:
    """Return what the program minimises: the aim, or the cost where a rate is raised."""
    if AIMS[told.aim].is_maximised:
        return f"{value:.2f} {currency}".rstrip()
    return _number(told, value, currency)


def certificate_dict(told: Certificate) -> dict[str, Any]:
    """Return the second opinion as the table that is written as JSON."""
    return {
        "verdict": told.verdict,
        "solver": told.solver,
        "aim": told.aim,
        "value": told.value,
        "priced": told.priced,
        "margin": told.margin,
        "entries": told.n_entries,
        "entries_settled": told.n_settled,
        "rounds": told.n_rounds,
        "machines_judged": told.n_judged,
        "parts": told.n_parts,
        "owned_pieces": told.n_owned,
        "seconds": round(told.seconds, 3),
        "why": told.why,
        "better": None if told.better is None else _better(told, told.better),
        "shared": list(told.shared),
        "not_known": list(told.unknown),
    }


def _better(told: Certificate, found: Assessment) -> dict[str, Any]:
    return {
        "value": AIMS[told.aim].value_of(found),
        "parts": {e.item.key: e.count for e in found.build.items},
    }

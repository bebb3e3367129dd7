"""The sections below the page, each as a title and lines of a width."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from optibox.assess import Assessment, route_to
from optibox.completion.mending import IN_PLACE, mends_of
from optibox.present.cautions import CAUTIONS, cautions_for
from optibox.present.figures_table import Group, figure_groups
from optibox.present.migration_text import TITLE as MOVING
from optibox.present.migration_text import migration_lines
from optibox.present.order_text import MARGIN, order_steps
from optibox.present.report import Report, agrees
from optibox.present.run_line import operation_rows
from optibox.present.settle import finding_text, merged
from optibox.present.slack import Slack, rate_stages, share_text, slacks
from optibox.present.verdict import gave_up
from optibox.present.wiring_map import (
    CardRow,
    WiringRow,
    card_rows,
    power_sentence,
    wiring_rows,
)
from optibox.present.words import cut, pad, pad_left, width_of, wrapped
from optibox.report.quantity import number, rate
from optibox.report.words import clean, counted
from optibox.rules.reach import told_with_steps


@dataclass(frozen=True, slots=True)
class Section:
    """One section of the answer."""

    title: Callable[[Report], str]
    lines: Callable[[Report, int], list[str]]


def _cautions(step: str, width: int) -> list[str]:
    return [
        line
        for caution in cautions_for(step)
        for line in wrapped(caution.text, width, f"{MARGIN}! ")
    ]


def _found(report: Report) -> Assessment:
    if report.assessment is None:
        msg = "there is no build to describe"
        raise ValueError(msg)
    return report.assessment


def _order(report: Report, width: int) -> list[str]:
    return order_steps(_found(report), report.currency, width)


def _wiring(report: Report, width: int) -> list[str]:
    found, lines = _found(report), list[str]()
    for row in wiring_rows(found):
        for number_, text in enumerate(wiring_words(row)):
            lines += wrapped(text, width, MARGIN if number_ == 0 else MARGIN * 3)
    for card in card_rows(found):
        lines += wrapped(card_words(card), width, MARGIN)
    lines += wrapped(f"Power: {power_sentence(found)}", width, MARGIN)
    steps = ("data cables", "power to the drives")
    return lines + [line for step in steps for line in _cautions(step, width)]


def wiring_words(row: WiringRow) -> Iterator[str]:
    """Yield the way of one drive as phrases: drive and bay, cable, port, power."""
    bay = f", bay {row.bay}" if row.bay else ""
    where = " on the backplane" if row.is_on_backplane else ""
    frame = f" in adapter {row.adapter_id}" if row.adapter_id else ""
    yield f"{row.drive}: {row.label}{bay}{where}{frame}"
    if row.cable:
        leg = f"; {row.leg}" if row.leg else ""
        yield f"{row.cable} [{row.cable_id}]: {row.cable_words}{leg}"
    link = f", {row.link}" if row.link else ""
    speed = f" {rate(row.link_mb_s)}" if row.link_mb_s else ""
    shared = f", shared with {', '.join(row.shared_with)}" if row.shared_with else ""
    port = f" ({rate(row.port_mb_s)})" if row.port_mb_s and row.host else ""
    yield f"{row.port_words}{port}{link}{speed}{shared}"
    yield f"power: {row.power}"


def card_words(row: CardRow) -> str:
    """Return one card in its slot."""
    speed = f", {rate(row.link_mb_s)} each way" if row.link_mb_s else ""
    return f"{row.name}: {row.label}, slot {row.slot or 'none'}, {row.link}{speed}"


def _figures(report: Report, width: int) -> list[str]:
    groups = figure_groups(_found(report), report.currency)
    shown = [f for group in groups for f in group.figures if f.label]
    value_width = max(width_of(f.text) for f in shown)
    label_width = min(
        max(width_of(f.label) for f in shown), width - value_width - 2 * len(MARGIN) - 2
    )
    lines = []
    for group in groups:
        lines.append(MARGIN + group.title)
        lines += _group_lines(group, label_width, value_width)
    return lines + _cautions("figures", width)


def _group_lines(group: Group, label_width: int, value_width: int) -> Iterator[str]:
    for figure in group.figures:
        if figure.label:
            label = pad(cut(figure.label, label_width), label_width)
            yield f"{MARGIN * 2}{label}  {pad_left(figure.text, value_width)}"


def _slack(report: Report, width: int) -> list[str]:
    found, lines = _found(report), list[str]()
    rows = slacks(found)
    longest = max((width_of(row.text) for row in rows), default=0)
    for row in rows:
        line = _slack_line(row, longest)
        fits = width_of(line) <= width
        lines += [line] if fits else wrapped(line, width, MARGIN, MARGIN * 2)
    for stage in rate_stages(found):
        lines += wrapped(stage.text, width, MARGIN)
    return lines


def _slack_line(row: Slack, longest: int) -> str:
    unit = f" {row.unit}" if row.unit else ""
    left = share_text(row)
    if row.slack > 0:
        amount = f"{number(row.slack, row.digits)}{unit} to spare"
        left = amount if row.unit == "%" else f"{amount}, {left}"
    return f"{MARGIN}{pad(row.text, longest)}  {left}"


def _run(report: Report, width: int) -> list[str]:
    rows, lines = operation_rows(_found(report), report.currency), list[str]()
    longest = max(width_of(name) for name, _ in rows)
    for name, text in rows:
        lines += wrapped(text, width, f"{MARGIN}{pad(name, longest)}  ")
    return lines + _cautions("run", width)


def _warnings(report: Report, width: int) -> list[str]:
    found, lines = _found(report), list[str]()
    mends = mends_of(found, report.catalog, rules=IN_PLACE)
    by_rule = {finding.rule: mend for finding, mend in mends.items()}
    for finding in merged(found.findings):
        text = f"{finding.severity}: {finding_text(finding)}"
        lines += wrapped(text, width, MARGIN, MARGIN * 2)
        mend = by_rule.get(finding.rule)
        if mend is not None and finding.severity != "information":
            text = f"mended by {clean(mend.words(report.currency))}"
            lines += wrapped(text, width, MARGIN * 2, MARGIN * 2)
    return lines


def _assumptions(report: Report, width: int) -> list[str]:
    rows = report.assumed
    longest = min(40, max((width_of(row.key) for row in rows), default=0))
    return [
        line
        for row in rows
        for line in wrapped(
            f"{row.value}: {row.meaning}", width, f"{MARGIN}{pad(row.key, longest)}  "
        )
    ]


def _all_cautions(report: Report, width: int) -> list[str]:
    del report
    return [
        line
        for caution in CAUTIONS
        for line in wrapped(caution.text, width, f"{MARGIN}! ")
    ]


def _proof(report: Report, width: int) -> list[str]:
    return wrapped(proof_text(report), width, MARGIN)


def proof_text(report: Report) -> str:
    """Return how far the answer is proven, by what, in how long."""
    plan, proof = report.plan, report.plan.proof
    effort = (
        f"{proof.n_entries} ways to lay out and run it, {proof.n_bounded} ruled out by "
        f"bounds, {proof.n_solves} programs solved by {proof.solver} in "
        f"{proof.seconds:.1f} s"
    )
    if plan.assessment is None:
        done = "searched to the end" if plan.status == "infeasible" else "stopped"
        return f"Proof: {done}: {effort}."
    if plan.status == "optimal":
        how = "optimal, nothing of this catalog does better"
        if proof.guard is not None:
            how += (
                f"; of {counted(proof.guard.n_neighbours, 'build')} beside it (other "
                f"operation, one part or role exchanged) {proof.guard.n_tried} were "
                f"tried, none better"
            )
    else:
        how = f"not proven: value {proof.value:.2f}, bound {proof.bound:.2f}"
        if proof.n_unsolved:
            how += f"; {gave_up(proof)}"
    check = "agrees" if agrees(plan) else "DISAGREES: do not rely on this answer"
    return (
        f"{how}; {effort}; the evaluator, which uses no solver, {check}. True to the "
        "prices and watts given, which are seldom known to better than a tenth."
    )


def _named(title: str) -> Callable[[Report], str]:
    return lambda _: title


def _assumed_title(report: Report) -> str:
    return f"Assumed ({len(report.assumed)} defaults, the most influential first)"


def _moving(report: Report, width: int) -> list[str]:
    """Return how drives that hold data come into the array; nothing where none does."""
    route = route_to(_found(report), report.scenario)
    if not route.is_needed:
        return []
    return migration_lines(route, width, told_with_steps(route))


SECTIONS: Mapping[str, Section] = {
    "order": Section(_named("Order list, step by step"), _order),
    "wiring": Section(_named("Wiring"), _wiring),
    "run": Section(_named("How to run it"), _run),
    "figures": Section(_named("Figures"), _figures),
    "slack": Section(_named("Slack"), _slack),
    "moving": Section(_named(MOVING), _moving),
    "warnings": Section(_named("Findings"), _warnings),
    "assumptions": Section(_assumed_title, _assumptions),
    "cautions": Section(_named("Cautions"), _all_cautions),
    "proof": Section(_named("Proof"), _proof),
}
"""Sections by name, in the order in which they stand."""

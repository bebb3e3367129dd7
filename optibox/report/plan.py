"""The answer of a plan: a page that says what to do, and sections below it."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

from optibox.assess import Assessment, route_to
from optibox.completion.mending import IN_PLACE, mends_of
from optibox.report.answer import Report, agrees
from optibox.report.as_json import FORMAT
from optibox.report.cautions import CAUTIONS, cautions_for
from optibox.report.certificate import certificate_dict, certificate_section
from optibox.report.described import described
from optibox.report.document import (
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
    cautions,
    notes,
    section,
)
from optibox.report.explain import explanation_dict, refusal_parts
from optibox.report.figures import figure_groups
from optibox.report.migration import TITLE as MOVING
from optibox.report.migration import migration_blocks
from optibox.report.order import order_list, unused_owned
from optibox.report.order_words import (
    order_blocks,
    order_data,
    order_table,
    order_title,
    small_parts,
)
from optibox.report.quantity import number, rate
from optibox.report.run_line import operation_rows, run_line
from optibox.report.second import second_dict, second_section
from optibox.report.settle import finding_text, merged, to_settle, without_names
from optibox.report.slack import (
    RateStage,
    Slack,
    rate_stages,
    share_text,
    slacks,
    tight,
)
from optibox.report.text import as_text, cut
from optibox.report.verdict import gave_up, verdict
from optibox.report.wiring_map import (
    CardRow,
    WiringRow,
    card_rows,
    power_sentence,
    wiring_rows,
)
from optibox.report.words import counted
from optibox.rules.reach import told_with_steps

PAGE_LINES = 24
"""Lines of the page: what a plain terminal shows at once."""
DEFAULT_SECTIONS = ("moving", "warnings", "cautions", "proof")
_SETTLE = "Settle first:"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Room:
    """How the page saves lines."""

    short_settle: bool = False
    small_together: bool = False
    short_run: bool = False


_ROOMS = (
    _Room(),
    _Room(short_settle=True),
    _Room(short_settle=True, short_run=True),
    _Room(short_settle=True, short_run=True, small_together=True),
)


@dataclass(frozen=True, kw_only=True)
class PlanAnswer:
    """A plan as a page with sections below it, and for programs."""

    report: Report
    sections: Sequence[str] = DEFAULT_SECTIONS
    """Names out of ``SECTIONS``; they stand below the page in their own order."""

    def document(self, width: int = 100) -> Document:
        """Return the whole answer; the width decides how the page saves lines."""
        report, page = self.report, self.page(width)
        told, second = report.certificate, report.second
        opinion = certificate_section(told, report.currency) if told else ()
        if report.assessment is None:
            data = order_data(report)
            return replace(page, sections=(*page.sections, *opinion), data=data)
        left = [name for name in SECTIONS if name not in self.sections]
        more = f"More: --all, or --section {','.join(left)}" if left else ""
        return replace(
            page,
            sections=(
                *opinion,
                *(second_section(second, report.currency) if second else ()),
                *(
                    part
                    for key, (title, blocks) in SECTIONS.items()
                    if key in self.sections
                    for part in section(title(report), *blocks(report), key=key)
                ),
            ),
            end=(Note(more),) if more else (),
            data=order_data(report),
        )

    def page(self, width: int) -> Document:
        """Return verdict, stamp, what to settle, order, running and what binds.

        The most generous form that stays within 24 lines is taken; where none does, the
        tightest one: no row of the order list is ever left out.
        """
        found = self.report.assessment
        if found is None:
            return _without_build(self.report)
        page = _page(self.report, found, width, _ROOMS[0])
        for room in _ROOMS[1:]:
            if as_text(page, width).count("\n") <= PAGE_LINES:
                break
            page = _page(self.report, found, width, room)
        return page

    def to_dict(self) -> dict[str, Any]:
        """Return the answer for programs: everything, in a fixed order.

        Keys, at the top:

        - ``format``: version of this layout; ``currency``; ``status``: ``optimal``,
          ``feasible`` (stopped without proof), ``infeasible`` or ``unknown``
          (stopped without any build)
        - ``aim``; ``gap``: relative gap between value and bound, 0 when proven, null
          without a build; ``in_play``: needs and limits in words, without a build
        - ``catalog``; ``proof``: ``bound`` and ``value`` in the aim's unit, ``entries``,
          ``bounded``, ``solves``, ``solver``, ``seconds``, ``evaluator_agrees``
        - ``build``: null without a build, else ``parts``, ``drives``, ``wiring`` (a row a
          drive), ``cards``, ``power`` (a row a power plug in use), ``power_sentence``, ``operation`` (``timeout_min`` null = drives
          never stop)
        - ``figures``: one number a key, the unit in the key; ``_price`` in the currency
        - ``year``, ``rates``, ``slack``, ``alternatives`` (the same parts run in other
          ways), ``findings``, ``settle_first``, ``order``, ``postage``, ``unused_owned``,
          ``migration`` (see ``report.migration.migration_dict``)
        - ``certificate``, where asked for: ``verdict`` (certified, counter-example, not
          settled, void), ``solver``, ``value``, ``priced`` (what the flat program asks for
          the answer), ``margin``, ``entries``, ``entries_settled``, ``rounds``,
          ``machines_judged``, ``parts``, ``owned_pieces``, ``seconds``, ``why``,
          ``better`` (``value``, ``parts``), ``shared`` (functions that the planner uses
          too), ``not_known``
        - ``second_thoughts``, where asked for: ``nearest``, ``walk_away`` (a row a line of
          the order list: ``walk_away_price`` of a pack, null = at any price,
          ``without_extra_price``, null = nothing else fits), ``is_proven``, ``searches``
        - ``explanation``: without a build, why and what nearly does; see
          ``report.explain.explanation_dict``
        - ``assumptions``: the most influential first; ``cautions``

        What has no finite value, such as an endurance without writes, is null.
        """
        report = self.report
        plan, catalog, found = report.plan, report.catalog, report.assessment
        table: dict[str, Any] = {
            "format": FORMAT,
            "status": plan.status,
            "aim": plan.aim,
            "gap": None if found is None else plan.proof.gap,
            "currency": report.currency,
            "in_play": list(plan.in_play),
            "scenario": {"name": report.scenario.name, "about": report.scenario.about},
            "catalog": {
                "name": catalog.name,
                "stamp": report.stamp,
                "invented": catalog.is_invented,
                "date": catalog.date.isoformat() if catalog.date else None,
            },
            "proof": _proof_dict(report),
            "build": None,
        }
        if found is not None:
            table |= described(found, report.currency)
        if report.certificate is not None:
            table["certificate"] = certificate_dict(report.certificate)
        if report.second is not None:
            table["second_thoughts"] = second_dict(report.second)
        if report.refusal is not None:
            table["explanation"] = explanation_dict(report.refusal)
        table["assumptions"] = [row._asdict() for row in report.assumed]
        table["cautions"] = [asdict(caution) for caution in CAUTIONS]
        return table


def _proof_dict(report: Report) -> dict[str, Any]:
    proof, has_build = report.plan.proof, report.assessment is not None
    return {
        "bound": proof.bound if has_build else None,
        "value": proof.value if has_build else None,
        "entries": proof.n_entries,
        "bounded": proof.n_bounded,
        "solves": proof.n_solves,
        "neighbours": proof.guard.n_neighbours if proof.guard else None,
        "neighbours_tried": proof.guard.n_tried if proof.guard else None,
        "unsolved": proof.n_unsolved,
        "solver": proof.solver,
        "seconds": round(proof.seconds, 3),
        "evaluator_agrees": agrees(report.plan),
    }


def _page(report: Report, found: Assessment, width: int, room: _Room) -> Document:
    rows, currency = order_list(found), report.currency
    run = run_line(found, currency, is_short=room.short_run)
    binds = binds_text(found, is_short=room.short_run)
    small = small_parts(rows, width) if room.small_together else None
    large = [row for row in rows if small is None or row not in small.rows]
    spared = ", ".join(f"{x.count} x {x.label}" for x in unused_owned(found))
    spared = cut(f"Owned, not used: {spared}", width) if spared else ""
    order = section(
        cut(order_title(found, currency), width),
        order_table(large),
        Note(small.text if small else ""),
    )
    return Document(
        verdict=(" ".join(verdict(report)),),
        lead=(
            Note(report.stamp),
            _settle(found, width, is_short=room.short_settle),
            *order,
            Note(spared),
            Facts((("Run:", run), ("Binds:", binds))),
        ),
    )


def _settle(found: Assessment, width: int, *, is_short: bool) -> Facts:
    room = width - len(_SETTLE) - 5
    facts = []
    for number_, told in enumerate(to_settle(found), 1):
        text = cut(without_names(told), room) if is_short else told
        facts.append((_SETTLE if number_ == 1 else "", f"{number_}. {text}"))
    return Facts(tuple(facts), "caution")


def binds_text(found: Assessment, *, is_short: bool = False) -> str:
    """Return which stage sets each rate, and what has next to nothing left.

    The short form leaves out how far each rate could rise.
    """
    rows = [replace(r, next_mb_s=None) if is_short else r for r in rate_stages(found)]
    text = f"{'; '.join(map(_stage_words, rows))}."
    scarce, asked_of = tight(found), ("needs.", "limits.")
    asked = [row.text for row in scarce if row.key.startswith(asked_of)]
    full = [row.words for row in scarce if not row.key.startswith(asked_of)]
    text += f" Tight: {'; '.join(asked)}." if asked else ""
    return text + (f" Full: {', '.join(full)}." if full else "")


def _stage_words(row: RateStage) -> str:
    then = f", next {number(row.next_mb_s)}" if row.next_mb_s else ""
    return f"{row.operation} {rate(row.rate_mb_s)} by {row.stage}{then}"


def _without_build(report: Report) -> Document:
    """Return what is said where there is no build to show."""
    lead: tuple[Note, ...] = ()
    sections: tuple[Section, ...] = ()
    if report.refusal is not None:
        lead, sections = refusal_parts(report.refusal, report.currency)
    in_play = report.plan.in_play or ("none that the scenario sets",)
    return Document(
        verdict=(verdict(report)[0],),
        lead=(Note(report.stamp), *lead),
        sections=(*section("Needs and limits in play", notes(in_play)), *sections),
        end=(Note(proof_text(report)),),
    )


def _found(report: Report) -> Assessment:
    if report.assessment is None:
        msg = "there is no build to describe"
        raise ValueError(msg)
    return report.assessment


def _cautions(step: str) -> Items:
    return cautions(caution.text for caution in cautions_for(step))


def _order(report: Report) -> Iterator[Block]:
    yield from order_blocks(_found(report), report.currency)


def _wiring(report: Report) -> Iterator[Block]:
    found = _found(report)
    drives = (tuple(wiring_words(row)) for row in wiring_rows(found))
    yield Items(tuple(Item(text=first, details=tuple(x)) for first, *x in drives))
    power = f"Power: {power_sentence(found)}"
    yield notes([*map(card_words, card_rows(found)), power])
    yield from map(_cautions, ("data cables", "power to the drives"))


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


def _figures(report: Report) -> Iterator[Block]:
    groups = figure_groups(_found(report), report.currency)
    yield Table(
        columns=(Column(), Column(is_right=True, flow="keep")),
        rows=tuple(
            Row(cells=(figure.label, figure.text), group=group.title)
            for group in groups
            for figure in group.figures
            if figure.label
        ),
    )
    yield _cautions("figures")


def _slack(report: Report) -> Iterator[Block]:
    found = _found(report)
    yield Table(
        columns=(Column(least=24), Column()),
        rows=tuple(Row(cells=(row.text, _left(row))) for row in slacks(found)),
    )
    yield notes(stage.text for stage in rate_stages(found))


def _left(row: Slack) -> str:
    unit = f" {row.unit}" if row.unit else ""
    if row.slack <= 0:
        return share_text(row)
    amount = f"{number(row.slack, row.digits)}{unit} to spare"
    return amount if row.unit == "%" else f"{amount}, {share_text(row)}"


def _run(report: Report) -> Iterator[Block]:
    yield Facts(operation_rows(_found(report), report.currency))
    yield _cautions("run")


def _moving(report: Report) -> Iterator[Block]:
    """Yield how drives that hold data come into the array; nothing where none does."""
    route = route_to(_found(report), report.scenario)
    if route.is_needed:
        yield from migration_blocks(route, told_with_steps(route))


def _warnings(report: Report) -> Iterator[Block]:
    found = _found(report)
    mends = mends_of(found, report.catalog, rules=IN_PLACE)
    by_rule = {finding.rule: mend for finding, mend in mends.items()}
    items = []
    for finding in merged(found.findings):
        mend = by_rule.get(finding.rule)
        told: tuple[str, ...] = ()
        if mend is not None and finding.severity != "information":
            told = (f"mended by {mend.words(report.currency)}",)
        text = f"{finding.severity}: {finding_text(finding)}"
        items.append(Item(text=text, details=told))
    yield Items(tuple(items))


def _assumptions(report: Report) -> Iterator[Block]:
    yield Facts(tuple((x.key, f"{x.value}: {x.meaning}") for x in report.assumed))


def _all_cautions(_: Report) -> Iterator[Block]:
    yield cautions(caution.text for caution in CAUTIONS)


def _proof(report: Report) -> Iterator[Block]:
    yield Note(proof_text(report))


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


SECTIONS: Mapping[
    str, tuple[Callable[[Report], str], Callable[[Report], Iterator[Block]]]
] = {
    "order": (_named("Order list, step by step"), _order),
    "wiring": (_named("Wiring"), _wiring),
    "run": (_named("How to run it"), _run),
    "figures": (_named("Figures"), _figures),
    "slack": (_named("Slack"), _slack),
    "moving": (_named(MOVING), _moving),
    "warnings": (_named("Findings"), _warnings),
    "assumptions": (_assumed_title, _assumptions),
    "cautions": (_named("Cautions"), _all_cautions),
    "proof": (_named("Proof"), _proof),
}
"""Sections by name, in the order in which they stand: title and blocks."""

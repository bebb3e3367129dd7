"""Rules of the power tree: plugs, adapters, currents, voltage."""

from collections import Counter
from collections.abc import Iterator

from optibox.catalog.platform import PowerLead
from optibox.rules.context import Context
from optibox.rules.demands import exceeds
from optibox.rules.register import Finding, error, information, rule, warning
from optibox.wiring import MOST_IN_A_ROW, Edge, PowerTree
from optibox.wiring.amperes import Amperes
from optibox.wiring.words import PLUG_WORDS, plug_name, several, way_to

_HALF = 0.5
_RAILS = (("12 V", 12.0), ("5 V", 5.0))


@rule(
    "C8",
    "Every drive gets power",
    "A drive or backplane without a power plug does not run.",
    severities=("error", "information"),
    remedy="Add a splitter or adapter, or use a supply with more leads.",
)
def power_plugs(context: Context) -> Iterator[Finding]:
    """Yield errors for what no plug feeds, and for plugs that do not go together."""
    tree = context.power
    for plug, words in PLUG_WORDS.items():
        unfed = [load.name for load in tree.unfed if load.plug == plug]
        if unfed:
            yield error(
                "C8",
                f"{several(unfed)} {'has' if len(unfed) == 1 else 'have'} no {words} plug",
                "add a splitter or adapter, or choose a supply with more leads",
            )
    yield from _misfits(tree)
    loose = Counter(piece.label for piece in tree.loose)
    for label, count in loose.items():
        yield information("C8", f"{count} x {label}: nothing hangs on it")


def _misfits(tree: PowerTree) -> Iterator[Finding]:
    known = {x.name for x in tree.loads} | {x.name for x in tree.pieces}
    seen: set[tuple[str, int]] = set()
    hung = Counter(feed.load for feed in tree.feeds)
    for name in sorted(name for name, count in hung.items() if count > 1):
        yield error("C8", f"{name} hangs on {hung[name]} plugs", "name one of them")
    for feed in tree.feeds:
        if feed.load not in known:
            yield error("C8", f"power is led to {feed.load}, which wants none")
        if (feed.source, feed.plug) in seen:
            yield error("C8", f"plug {feed.plug} of {feed.source} feeds two things")
        seen.add((feed.source, feed.plug))
    for edge in tree.edges:
        yield from _misfit(edge)


def _misfit(edge: Edge) -> Iterator[Finding]:
    taken = edge.load.plug if edge.load else edge.piece.takes if edge.piece else ""
    giver = edge.path[-1]
    if taken and taken != edge.plug:
        yield error(
            "C8",
            f"{edge.feed.load} takes a {PLUG_WORDS[taken]} plug, "
            f"{plug_name(edge)} is a {PLUG_WORDS[edge.plug]} plug",
        )
    if not 1 <= edge.feed.plug <= giver.n_plugs:
        yield error(
            "C8",
            f"{edge.feed.load} hangs on plug {edge.feed.plug} of {giver.name}, "
            f"which has {giver.n_plugs}",
        )
    if len(edge.path) > MOST_IN_A_ROW + 1:
        yield error(
            "C8",
            f"{edge.feed.load} hangs behind {len(edge.path) - 1} adapters in a row, "
            f"at most {MOST_IN_A_ROW}",
        )


def is_never_safe(lead: PowerLead) -> bool:
    """Return whether an adapter is refused wherever it hangs."""
    crosses = lead.takes_plug == "peripheral" and lead.gives_plug == "sata"
    return crosses and lead.is_moulded == "yes"


@rule(
    "C8a",
    "No moulded SATA plugs behind 4-pin plugs",
    "Moulded SATA power plugs on adapters from 4-pin plugs have caught fire.",
    severities=("error", "warning"),
    remedy="Use crimped adapters.",
)
def moulded(context: Context) -> Iterator[Finding]:
    """Yield findings for adapters with SATA plugs of the dangerous make."""
    pieces = context.power.pieces
    risky = [x for x in pieces if x.gives == "sata" and x.is_moulded != "no"]
    found: dict[tuple[str, str, str], None] = {}
    for piece in risky:
        edge = context.power.edge_by_load.get(piece.name)
        behind = piece.takes == "peripheral" or bool(edge and edge.is_behind_4_pin)
        if behind:
            found.setdefault((piece.label, piece.is_moulded, "4-pin"))
        elif piece.is_moulded == "yes":
            found.setdefault((piece.label, piece.is_moulded, "SATA power"))
    for label, make, plug in found:
        if make == "yes" and plug == "4-pin":
            yield error(
                "C8a",
                f"{label}: moulded SATA plugs behind a 4-pin plug",
                "use a crimped adapter",
            )
        elif make == "yes":
            yield warning("C8a", f"{label}: moulded SATA plugs", "use a crimped one")
        else:
            yield warning(
                "C8a",
                f"{label}: whether it is moulded is not known",
                "look before fitting it behind a 4-pin plug",
            )


@rule(
    "C9",
    "No plug, adapter or lead carries too much",
    "Overloaded plugs and wires overheat and melt: a SATA power plug carries 4.5 A on "
    "each voltage, a 4-pin plug and a lead of 18 AWG are planned with 8 A.",
    remedy="Spread the drives over more plugs and leads.",
)
def edge_currents(context: Context) -> Iterator[Finding]:
    """Yield an error for every edge of the power tree that is overloaded."""
    tree = context.power
    for lead in tree.leads:
        yield from _over(tree.on_lead(lead), lead.most_a, lead.label)
    for edge in tree.edges:
        feeds = tree.below(edge.piece) if edge.piece else (edge.feed.load,)
        what = f"{plug_name(edge)}, which feeds {several(feeds)}"
        yield from _over(edge.carries, edge.most_a, what)


def _over(flow: Amperes, most_a: float, what: str) -> Iterator[Finding]:
    for volts, amps in (("12 V", flow.at_start_12v_a), ("5 V", flow.on_5v_a)):
        if exceeds(amps, most_a):
            yield error(
                "C9",
                f"{amps:.1f} A on {volts} through {what}: at most {most_a:.1f} A",
                "spread the drives over more plugs and leads",
            )


@rule(
    "C10",
    "Power-disable drives are not held in reset",
    "3.3 V on pin 3 of the power plug holds such drives in reset: they look dead.",
    severities=("error", "warning", "information"),
    remedy="Use leads without 3.3 V, or a backplane fed by 4-pin plugs.",
)
def power_disable(context: Context) -> Iterator[Finding]:
    """Yield findings for drives with power-disable on plugs that carry 3.3 V."""
    tree = context.power
    edges = [edge for edge in tree.edges if edge.load is not None]
    held = {d for e in edges if e.load and e.has_3v3 for d in e.load.held}
    free = {d for e in edges if e.load for d in e.load.held} - held
    doubtful = {d for e in edges if e.load and e.has_3v3 for d in e.load.doubtful}
    if held:
        yield error(
            "C10",
            f"{several(sorted(held))}: power-disable on a plug that carries 3.3 V",
            "use leads without 3.3 V, or a backplane fed by 4-pin plugs",
        )
    if free:
        yield information(
            "C10",
            f"{several(sorted(free))}: power-disable, on plugs without 3.3 V: keep it so",
        )
    if doubtful:
        yield warning(
            "C10",
            f"{several(sorted(doubtful))}: not known whether 3.3 V on the power plug "
            f"holds {'it' if len(doubtful) == 1 else 'them'} in reset",
            "use a plug without 3.3 V if a drive does not start",
        )


@rule(
    "P7",
    "The voltage holds up to the drives",
    "Thin, long or chained leads lose voltage; drives reset when it falls too far.",
    severities=("error", "warning"),
    remedy="Spread the drives over more leads, or use fewer adapters in a row.",
)
def voltage(context: Context) -> Iterator[Finding]:
    """Yield findings where a drive or backplane gets too little voltage."""
    tree, share = context.power, context.machine.factors.rail_tolerance.mid
    for number, (name, volts) in enumerate(_RAILS):
        most = volts * share
        drops = [(tree.drops_v(edge)[number], edge) for edge in tree.edges if edge.load]
        lost, edge = max(drops, key=lambda pair: pair[0], default=(0.0, None))
        if edge is None or not exceeds(lost, most * _HALF):
            continue
        say = error if exceeds(lost, most) else warning
        yield say(
            "P7",
            f"{lost:.2f} V of {name} are lost on the way to {edge.feed.load} "
            f"({way_to(edge)}), tolerance {most:.2f} V",
            "spread the drives over more leads",
        )

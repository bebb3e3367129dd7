"""From a finding and a catalog to the parts that mend it, each tried out.

A way to mend counts only where the evaluator agrees: the finding is gone, and nothing
new is wrong.
"""

from collections import Counter
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from itertools import islice
from typing import TYPE_CHECKING

from optibox.assess import Assessment, assess
from optibox.catalog.catalog import Catalog
from optibox.catalog.columns import Part
from optibox.completion.moves import MOVES, Move
from optibox.rules import Finding

if TYPE_CHECKING:
    from optibox.build import Item

MOST_TRIED = 60
"""Machines tried for each kind of move; what costs more than that is not sought."""


WORTH_A_WORD_W = 0.5
"""Change of the watts asleep that is told; below it figures are not known. [W]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Purchase:
    """So many pieces of one part to buy."""

    part: Part
    count: int

    @property
    def price(self) -> float:
        """Return what it costs. [currency]."""
        return -(-self.count // self.part.pack) * self.part.price.mid


@dataclass(frozen=True, slots=True, kw_only=True)
class Mend:
    """What mends a finding: parts to buy, parts that they take the place of."""

    buys: tuple[Purchase, ...]
    """Empty where wiring the same parts in another way is enough."""
    replaces: tuple[str, ...] = ()
    rules: tuple[str, ...] = ()
    """All rules that have no finding any more with it."""
    asleep_w: float = 0.0
    """How many watts more the machine draws asleep, less below zero. [W]"""

    @property
    def price(self) -> float:
        """Return what it costs. [currency]."""
        return sum(buy.price for buy in self.buys)

    def words(self, currency: str) -> str:
        """Return parts and price in words."""
        if not self.buys and self.replaces:
            return f"taking {' and '.join(self.replaces)} out"
        if not self.buys:
            return "wiring the same parts in another way"
        parts = " and ".join(
            f"{b.count} x {b.part.name} [{b.part.id}]" for b in self.buys
        )
        instead = f" instead of {' and '.join(self.replaces)}" if self.replaces else ""
        price = f"{self.price:.2f} {currency}".rstrip()
        return f"{parts}{instead}, {price}{self._watts}"

    @property
    def _watts(self) -> str:
        """Return what changes at the wall, where it is worth a word."""
        if abs(self.asleep_w) < WORTH_A_WORD_W:
            return ""
        word = "more" if self.asleep_w > 0 else "less"
        return f", {abs(self.asleep_w):.1f} W {word} asleep"


IN_PLACE = frozenset({"B2", "C6", "C7", "C8a", "N2", "P1", "P2"})
"""Rules whose mends change one part where it is, so that trying them is quick."""


def mends_of(
    found: Assessment,
    catalog: Catalog | None,
    *,
    informs: bool = False,
    rules: Collection[str] | None = None,
) -> dict[Finding, Mend]:
    """Return what mends each finding, where a part of the catalog does.

    Parameters
    ----------
    found : Assessment
        The machine with its findings.
    catalog : Catalog or None
        Where parts come from; nothing = nothing is mended.
    informs : bool
        Pieces of information are mended too, not only errors and warnings.
    rules : collection of str, optional
        Only findings of these rules; all of them otherwise.
    """
    mends: dict[Finding, Mend] = {}
    if catalog is None:
        return mends
    for finding in found.findings:
        if finding in mends or (finding.severity == "information" and not informs):
            continue
        if rules is not None and finding.rule not in rules:
            continue
        tried = mend_of(finding, found, catalog)
        if tried is not None:
            mend, after = tried
            left = {(f.rule, f.evidence) for f in after.findings}
            for other in found.findings:
                same = other.rule == finding.rule and other not in mends
                if same and (other.rule, other.evidence) not in left:
                    mends[other] = mend
    return mends


MOST_STEPS = 8
"""Errors mended one after the other before giving up."""


def mend_all(found: Assessment, catalog: Catalog | None) -> tuple[Mend, Assessment]:
    """Return what mends all errors together, as far as parts of the catalog do.

    Each step takes the way that leaves the fewest errors, of equal ones the cheapest.
    The mended machine tells which errors are left.
    """
    current = found
    for _ in range(MOST_STEPS if catalog is not None else 0):
        tried = [
            pair
            for rule in dict.fromkeys(f.rule for f in current.errors)
            if (pair := _first_of(rule, current, catalog)) is not None
        ]
        best = min(tried, key=lambda p: (len(p[1].errors), p[0].price), default=None)
        if best is None or len(best[1].errors) >= len(current.errors):
            break
        current = best[1]
    return _mend(found, current), current


def _first_of(
    rule: str, found: Assessment, catalog: Catalog | None
) -> tuple[Mend, Assessment] | None:
    """Return what mends the first error of a rule."""
    finding = next(f for f in found.errors if f.rule == rule)
    return None if catalog is None else mend_of(finding, found, catalog)


def mend_of(
    finding: Finding, found: Assessment, catalog: Catalog
) -> tuple[Mend, Assessment] | None:
    """Return the cheapest parts that mend a finding, and the mended machine.

    Ways that leave fewer warnings come before cheaper ones.
    """

    def rank(pair: tuple[Mend, Assessment]) -> tuple[int, float]:
        mend, after = pair
        return sum(f.severity == "warning" for f in after.findings), mend.price

    for move in MOVES.get(finding.rule, ()):
        tried = list(_tried(finding, found, catalog, move))
        if tried:
            return min(tried, key=rank)
    return None


_ENOUGH = 3
"""Ways to mend after which no further one of a move is sought: prices rise."""


def _tried(
    finding: Finding, found: Assessment, catalog: Catalog, move: Move
) -> Iterator[tuple[Mend, Assessment]]:
    ways = 0
    for build in islice(move(found, catalog), MOST_TRIED):
        after = assess(build, found.scenario)
        if _mends(finding, found, after):
            yield _mend(found, after), after
            ways += 1
            if ways >= _ENOUGH:
                return


def _mends(finding: Finding, before: Assessment, after: Assessment) -> bool:
    """Return whether a finding is gone and nothing is worse for it."""
    mark = finding.rule, finding.evidence
    if any((f.rule, f.evidence) == mark for f in after.findings):
        return False
    rule = finding.rule, finding.severity
    if _counted(after)[rule] >= _counted(before)[rule]:
        return False
    return not _worse(before, after, finding) and _keeps(before, after)


def _worse(before: Assessment, after: Assessment, mended: Finding) -> bool:
    """Return whether anything new is wrong: errors, and warnings beside a warning."""
    grave = {"error"} if mended.severity == "error" else {"error", "warning"}
    then, now = (
        Counter(f.rule for f in found.findings if f.severity in grave)
        for found in (before, after)
    )
    return bool(now - then)


KEPT_SHARE = 0.99
"""Share of capacity and rates that a mended machine keeps at least."""


def _keeps(before: Assessment, after: Assessment) -> bool:
    """Return whether the machine still holds and moves what it did."""
    pairs = (
        (before.capacity.usable_tb, after.capacity.usable_tb),
        (before.rates.write_mb_s, after.rates.write_mb_s),
        (before.rates.read_mb_s, after.rates.read_mb_s),
        (before.rates.ingest_mb_s, after.rates.ingest_mb_s),
    )
    return all(now >= then * KEPT_SHARE for then, now in pairs)


def _counted(found: Assessment) -> Counter[tuple[str, str]]:
    return Counter((f.rule, f.severity) for f in found.findings)


def _mend(before: Assessment, after: Assessment) -> Mend:
    """Return what is bought and what falls out between two machines."""
    counts: Counter[str] = Counter()
    items: dict[str, Item] = {}
    for sign, build in ((-1, before.build), (1, after.build)):
        for entry in build.items + build.spares:
            items[entry.item.key] = entry.item
            counts[entry.item.key] += sign * entry.count
    buys = tuple(
        Purchase(part=items[key].part, count=n) for key, n in counts.items() if n > 0
    )
    gone = tuple(items[key].part.name for key, n in counts.items() if n < 0)
    left = {finding.rule for finding in after.findings}
    mended = {finding.rule for finding in before.findings} - left
    return Mend(
        buys=buys,
        replaces=gone,
        rules=tuple(sorted(mended)),
        asleep_w=after.wall.asleep_w - before.wall.asleep_w,
    )

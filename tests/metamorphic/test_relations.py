"""What answers to alike questions say about each other, over the shipped catalog.

One question a test. A contradiction fails it, with the scenario that shows it; an
answer that ends without proof skips it, so that it is counted apart and is no pass. The
slow run takes hours in all and minutes a shard; see the contributor's guide.
"""

import os
from dataclasses import replace

import pytest
import tomli_w

from optibox.search.result import Plan
from tests.support.relations import Contradiction, Effort, Family, family_of, planned

N_QUESTIONS = 200
PER_SHARD = 4
THOROUGH = Effort(time_limit_s=12.0, n_unchanged=2, has_prices=True)
QUICK = Effort(time_limit_s=60.0, n_unchanged=1, has_prices=False)
QUICK_SEEDS = (14,)
"""A question that is answered soon, and was once told that nothing fits at its plan's
own figures."""


def seeds() -> list[int]:
    """Return the seeds of the slow run; ``OPTIBOX_SEEDS=1000-1199`` asks for others."""
    first, _, last = os.environ.get("OPTIBOX_SEEDS", "").partition("-")
    if not first:
        return list(range(N_QUESTIONS))
    return list(range(int(first), int(last or first) + 1))


def told(found: Contradiction) -> str:
    """Return a contradiction with the scenario that shows it."""
    return (
        f"seed {found.seed}, {found.variant.name}: {found.text}\n"
        f"{tomli_w.dumps(found.variant.table)}"
    )


def see(family: Family) -> None:
    """Fail for a contradiction, skip where an answer is not proven."""
    assert not family.refuted, "\n".join(told(found) for found in family.refuted[:3])
    unproven = [a.variant.name for a in family.answers if not a.is_proven]
    if unproven:
        n = len(family.answers)
        pytest.skip(f"{len(unproven)} of {n} answers unproven: {', '.join(unproven)}")


@pytest.mark.parametrize("seed", QUICK_SEEDS)
def test_alike_questions_agree(seed):
    family = family_of(seed, QUICK)
    see(family)


@pytest.mark.slow
@pytest.mark.parametrize(
    "seed",
    [pytest.param(s, id=f"shard{s // PER_SHARD:03d}-seed{s}") for s in seeds()],
)
def test_alike_questions_agree_on_many(seed):
    see(family_of(seed, THOROUGH))


# the relations themselves ----------------------------------------------------------


@pytest.mark.parametrize(
    ("lie", "words"),
    [
        (lambda p: replace(p, status="infeasible", assessment=None), "impossible"),
        (lambda p: replace(p, proof=replace(p.proof, bound=1e6)), "bound"),
    ],
)
def test_a_false_answer_is_refuted(lie, words):
    """An answer that is wrong about one variant is refuted by the builds of the rest."""
    asked = []

    def solve(catalog, scenario, time_limit_s):
        asked.append(scenario)
        answer = first_answer(catalog, scenario, time_limit_s)
        return answer if len(asked) == 1 else lie(answer)

    family = family_of(QUICK_SEEDS[0], replace(QUICK, n_unchanged=0), solve)
    assert any(words in found.text for found in family.refuted)


KNOWN: list[Plan] = []


def first_answer(catalog, scenario, time_limit_s) -> Plan:
    """Return the answer to the question itself, asked once for all lies."""
    if not KNOWN:
        KNOWN.append(planned(catalog, scenario, time_limit_s))
    return KNOWN[0]

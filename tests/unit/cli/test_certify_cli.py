"""plan --certify: each verdict as text, as JSON and as an exit code."""

import json
from dataclasses import replace

import pytest

import optibox.certify.certificate
from optibox.certify.records import Certificate
from tests.unit.cli.test_plan_cli import asked, file, run

__all__ = ["asked", "file"]


def certificate(verdict: str, better=None, value: float | None = 1180.0, why="void"):
    return Certificate(
        verdict=verdict,
        solver="CBC, by way of PuLP",
        aim="total cost",
        value=value,
        priced=None if value is None else value - 1,
        margin=0.03,
        better=better,
        why=why if verdict == "void" else "",
        n_entries=2000,
        n_settled=2000 if verdict == "certified" else 40,
        n_rounds=12,
        n_judged=34,
        n_parts=316,
        n_owned=4,
        seconds=61.2,
        shared=("optibox.assess.assess", "optibox.physics.power.wall_w"),
    )


@pytest.fixture
def second(monkeypatch):
    """Put a verdict in place of the second opinion; note what it was asked."""
    seen = {"verdict": "certified"}

    def certify(answer, *_, time_s, solver):
        seen.update(answer=answer, time_s=time_s, solver=solver)
        better = None
        if seen["verdict"] == "counter-example":
            cost = replace(answer.cost, energy=answer.cost.energy - 50)
            better = replace(answer, cost=cost)
        return certificate(
            seen["verdict"], better, None if answer is None else answer.total_cost
        )

    monkeypatch.setattr(optibox.certify.certificate, "certify", certify)
    return seen


VERDICTS = {
    "certified": (0, "Certified: a second formulation and solver find nothing better"),
    "not settled": (5, "Not settled in 61 s: 40 of 2000 ways"),
    "counter-example": (6, "Refuted: the second formulation found a machine of"),
    "void": (6, "Void: void."),
}


@pytest.mark.usefixtures("asked")
@pytest.mark.parametrize("verdict", VERDICTS)
def test_each_verdict_has_its_words_and_its_exit_code(file, second, verdict):
    second["verdict"] = verdict
    code, words = VERDICTS[verdict]
    result = run(file, "--certify")
    assert result.exit_code == code
    text = " ".join(result.stdout.split())
    assert words in text
    assert "316 parts and 4 owned pieces, none left out beforehand" in text
    assert "no order of moves for drives that hold data" in text
    assert ("Proven cheapest" in text) == (code in (0, 5))
    assert max(len(line) for line in result.stdout.splitlines()) <= 100


@pytest.mark.usefixtures("asked")
@pytest.mark.parametrize("verdict", VERDICTS)
def test_each_verdict_is_in_the_json(file, second, verdict):
    second["verdict"] = verdict
    result = run(file, "--certify", "--format", "json")
    assert result.exit_code == VERDICTS[verdict][0]
    table = json.loads(result.stdout)
    told = table["certificate"]
    assert told["verdict"] == verdict
    assert told["shared"] == ["optibox.assess.assess", "optibox.physics.power.wall_w"]
    assert len(told["not_known"]) >= 3
    is_proven = table["status"] == "optimal"
    assert is_proven == (verdict in ("certified", "not settled"))
    assert (told["better"] is not None) == (verdict == "counter-example")


@pytest.mark.usefixtures("asked")
def test_time_and_solver_are_handed_on(file, second):
    run(file, "--certify")
    assert (second["time_s"], second["solver"]) == (120.0, "cbc")
    run(file, "--certify", "--certify-time", "7", "--certify-solver", "highs")
    assert (second["time_s"], second["solver"]) == (7.0, "highs")


@pytest.mark.usefixtures("second")
def test_that_nothing_fits_is_certified_too(file, asked):
    asked["status"] = "infeasible"
    result = run(file, "--certify", "--time-limit", "1")
    assert result.exit_code == 3
    assert "find no machine that meets all needs" in " ".join(result.stdout.split())


def test_without_a_proof_there_is_nothing_to_certify(file, asked, second):
    asked["status"] = "feasible"
    result = run(file, "--certify")
    assert result.exit_code == 4
    assert "no certificate: it wants a proven answer" in result.stderr
    assert "answer" not in second

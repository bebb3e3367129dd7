"""Questions to the planner: asked once, answered by known builds, ended in time."""

from dataclasses import replace

import pytest

from optibox.assess import assess
from optibox.explain import Asker, Refusal, StoppedError, explain, refusal
from optibox.explain.asker import admits
from optibox.explain.gaps import missing_of
from optibox.explain.requirements import requirements_of
from optibox.scenario import Scenario
from optibox.search import plan as planner
from tests.support.parts import catalog_of, plain_parts

ONE_WAY = {"layouts": ("independent",), "caches": ("none",), "timeouts_min": (30,)}


def asked(**sections) -> Scenario:
    values = {
        "needs": {"usable_tb": 3, "failures_survived": 0},
        "limits": {"array_drives": 2},
        "money": {"tariff_per_kwh": 0.3},
        "choices": ONE_WAY,
    }
    for name, section in sections.items():
        values[name] = values.get(name, {}) | section if name in values else section
    return Scenario.model_validate(values)


@pytest.fixture
def catalog():
    return catalog_of(plain_parts().values())


def test_a_question_is_asked_once_and_known_builds_answer_looser_ones(catalog):
    asker = Asker(catalog)
    scenario = asked()
    assert asker.build_for(scenario)
    assert asker.n_searches == 1
    looser = scenario.model_copy(
        update={"needs": scenario.needs.model_copy(update={"usable_tb": 1.0})}
    )
    found = asker.build_for(looser)
    assert found
    assert assess(found.build, looser).is_fit
    assert asker.n_searches == 1
    impossible = asked(needs={"usable_tb": 50})
    assert asker.build_for(impossible) is None
    assert asker.build_for(impossible) is None
    assert asker.n_searches == 2


def test_an_aim_answers_whether_its_limit_can_be_kept(catalog):
    asker = Asker(catalog)
    least = asker.best(asked(), "asleep watts").assessment.wall.asleep_w
    for watts, is_there in ((least + 0.01, True), (least - 0.01, False)):
        scenario = asked(limits={"asleep_w": watts})
        for first in (True, False):
            fresh = Asker(catalog)
            found = fresh.build_for(scenario, is_aim_first=first)
            assert (found is not None) == is_there


def test_a_known_build_is_no_answer_against_a_ban_or_a_choice(catalog):
    asker = Asker(catalog)
    found = asker.build_for(asked())
    keys = {item.item.key for item in found.build.items}
    assert admits(asked(), keys, found.build)
    assert not admits(asked(), keys - {"hdd-4"}, found.build)
    assert not admits(asked(choices={"layouts": ("pairs",)}), keys, found.build)
    other = {"timeouts_min": (45,), "allow_never": False}
    assert not admits(asked(choices=other), keys, found.build)
    assert asker.build_for(asked(ban=("hdd-4",))) is None


def test_no_time_leaves_questions_open(catalog):
    asker = Asker(catalog, time_limit_s=0.0)
    with pytest.raises(StoppedError):
        asker.build_for(asked())
    assert asker.is_stopped
    assert explain(catalog, asked(), time_limit_s=0.0) is None
    found = refusal(asker, asked(needs={"usable_tb": 50}))
    assert isinstance(found, Refusal)
    assert not found.effort.is_complete
    assert found.conflicts == ()
    assert found.has_any is None


def test_an_interrupt_ends_all_questions(catalog, monkeypatch):
    real = planner.plan

    def interrupted(*args, **keys):
        found = real(*args, **keys)
        return replace(found, status="unknown", assessment=None)

    monkeypatch.setattr(planner, "plan", interrupted)
    asker = Asker(catalog)
    with pytest.raises(StoppedError):
        asker.build_for(asked())
    with pytest.raises(StoppedError):
        asker.best(asked(needs={"usable_tb": 1}), "total cost")
    assert asker.n_searches == 1


def test_requirements_name_what_is_asked_and_nothing_else(catalog):
    scenario = asked(
        needs={"read_mb_s": 80, "ecc": True},
        limits={"budget": 500, "shape": "rack"},
        ban=("hdd-*",),
        insist=("board",),
    )
    found = {r.key: r for r in requirements_of(scenario, catalog)}
    assert found.keys() == {
        *("needs.usable_tb", "needs.read_mb_s", "needs.ecc", "needs.memory_gib"),
        *("limits.budget", "limits.shape", "limits.array_drives"),
        *("choices.layouts", "choices.caches", "choices.timeouts_min"),
        *("choices.allow_multipliers", "ban hdd-*", "insist board"),
    }
    defaults = {key for key, r in found.items() if r.is_default}
    assert defaults == {"needs.memory_gib", "choices.allow_multipliers"}
    for requirement in found.values():
        keys = {r.key for r in requirements_of(requirement.without(scenario), catalog)}
        always = {"needs.usable_tb", "needs.memory_gib", "limits.array_drives"}
        assert requirement.key not in keys - always
        assert keys >= found.keys() - {requirement.key}


@pytest.mark.parametrize(
    ("key", "value", "rounded", "tighter"),
    [
        ("needs.read_mb_s", 79.6, 79.0, 80.0),
        ("limits.asleep_w", 26.31, 26.4, 26.3),
        ("limits.asleep_w", 26.4, 26.4, 26.3),
        ("limits.budget", 100.001, 100.01, 100.0),
        ("needs.usable_tb", 3.7246, 3.72, 3.73),
    ],
)
def test_values_are_stated_in_whole_steps_that_are_no_harder(
    catalog, key, value, rounded, tighter
):
    needs = {"usable_tb": 5, "read_mb_s": 90}
    scenario = asked(needs=needs, limits={"asleep_w": 20, "budget": 90})
    found = {r.key: r for r in requirements_of(scenario, catalog)}[key]
    assert found.rounded(value) == rounded
    assert found.tightened(rounded) == tighter


def test_gaps_are_named_and_the_cause_among_them_is_proven():
    parts = plain_parts()
    del parts["lead"]
    found = explain(catalog_of(parts.values()), asked())
    assert found.has_any is False
    cause, *others = found.gaps
    assert cause.words == "no network lead for twisted pair"
    assert cause.would_help
    assert not any(gap.would_help for gap in others)


def test_a_backplane_without_its_cable_is_a_gap():
    parts = plain_parts()
    case = parts["case"]
    values = {name: getattr(case, name) for name in type(case).model_fields}
    parts["case"] = type(case).model_validate(
        values | {"backplane_connector": "sff-8087", "backplane_power": ()}
    )
    cables = catalog_of(parts.values())
    words = [m.words for m in missing_of(cables, asked())]
    reverse = "no reverse cable from SATA at the port to SFF-8087 at the backplane"
    assert reverse in words
    found = explain(cables, asked())
    assert found.gaps[0].words == reverse
    assert found.gaps[0].would_help


def test_nothing_is_missing_that_is_there(catalog):
    words = [m.words for m in missing_of(catalog, asked())]
    assert all("adapter" in text for text in words)

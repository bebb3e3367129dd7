"""Thousands of moves, done by a hand that knows only the README and the steps."""

import json
import random
from dataclasses import replace
from functools import lru_cache

import pytest
from typer.testing import CliRunner

from optibox.assess import assess, route_to
from optibox.build import Item, ItemCount, OperatingPlan, save_build
from optibox.build.items import OWNED_SUFFIX
from optibox.catalog.platform import Chassis
from optibox.catalog.storage import HardDrive, SolidStateDrive
from optibox.cli import app
from optibox.report.migration import migration_dict
from optibox.scenario import OwnedPart
from optibox.search.plan import plan
from tests.oracle.test_optimum import TIME_LIMIT_S
from tests.support.haul import Drive, Haul, LossError, follow
from tests.support.held import held_instance
from tests.support.tiny import ROUTINE
from tests.unit.present.machines import invented, reference_build, scenario

HARD = "ref-hdd-4tb-c5400"
PLANS = (
    OperatingPlan(layout="independent", n_parity=1, write_mode="read-modify-write"),
    OperatingPlan(layout="independent"),
    OperatingPlan(layout="striped", n_parity=1),
    OperatingPlan(layout="pairs"),
)


@lru_cache(maxsize=1)
def ground():
    catalog = invented()
    return catalog.by_id[HARD], reference_build(catalog)


def history(rng, part, *, is_beside):
    """Return what is said of an owned drive."""
    said = rng.choice(
        ("full", "some", "some", "empty", "empty" if is_beside else "some")
    )
    table = {"sits_in": rng.choice((None, "loose", "another machine"))}
    if said == "empty":
        table["holds_data"] = False
    elif said == "some":
        table["held_tb"] = round(rng.uniform(0.1, 0.97) * part.tb, 2)
    table["second_copy"] = said != "empty" and rng.random() < 0.25
    table["bring_back"] = rng.random() < 0.7
    if rng.random() < 0.3:
        table["old_array"] = "tank"
        table["sits_in"] = "another machine" if rng.random() < 0.8 else None
    if is_beside and rng.random() < 0.2:
        table["pending_sectors"] = 3
    return table


def situation(seed):
    """Return a build of four drives, some of them owned, and its scenario."""
    rng = random.Random(seed)
    hard, base = ground()
    plan_ = rng.choice(PLANS)
    items = [e for e in base.items if e.item.key != HARD]
    tall = rng.choice((4, 4, 5, 6))
    items = [
        replace(
            e,
            item=replace(e.item, part=e.item.part.model_copy(update={"bays_35": tall})),
        )
        if isinstance(e.item.part, Chassis)
        else e
        for e in items
    ]
    drives, owned = [], []
    for use in base.drives:
        if use.key != HARD:
            drives.append(use)
            continue
        letter = "abcdef"[len(owned)]
        part = hard.model_copy(
            update={"id": f"kind-{use.name}", "tb": rng.choice((2, 3, 4, 6))}
        )
        role = use.role if plan_.n_parity and plan_.layout == "independent" else "data"
        mine = None
        if rng.random() < 0.55:
            mine = OwnedPart(
                id=f"old-{letter}", part=part, **history(rng, part, is_beside=False)
            )
            owned.append(mine)
        key = mine.id + OWNED_SUFFIX if mine else part.id
        item = Item(key=key, part=part, owned=mine, limit=1 if mine else None)
        items.append(ItemCount(item=item, count=1))
        drives.append(replace(use, key=key, role=role))
    for number in range(rng.choice((0, 0, 1, 2))):
        part = hard.model_copy(
            update={"id": f"lot-{number}", "tb": rng.choice((2, 4, 8))}
        )
        owned.append(
            OwnedPart(
                id=f"shelf-{number}", part=part, **history(rng, part, is_beside=True)
            )
        )
    asked = scenario(owned=tuple(o.model_dump() | {"part": o.part} for o in owned))
    build = replace(base, items=tuple(items), drives=tuple(drives), operation=plan_)
    return build, asked


def held_bytes(owned, part):
    if owned is None or owned.holds_data is False:
        return 0
    if owned.held_tb is None:
        return int(part.capacity_bytes * 0.98)
    return round(owned.held_tb * 10**12)


def haul_of(build, asked):
    """Return the hand's own view of a build and a scenario."""
    items = {e.item.key: e.item for e in build.items}
    said = {o.id + OWNED_SUFFIX: o for o in asked.owned}
    is_home = any(
        isinstance(e.item.part, Chassis) and e.item.owned for e in build.items
    )
    drives = []
    for use in build.drives:
        item = items[use.key]
        if isinstance(item.part, HardDrive | SolidStateDrive) and use.role != "boot":
            mine = said.get(use.key, item.owned)
            drives.append(_drive(use.name, use.role, item.part, mine, is_home))
    used = {d.key for d in build.drives}
    drives += [
        _drive(owned.id, "beside", owned.part, owned, is_home)
        for owned in asked.owned
        if owned.id + OWNED_SUFFIX not in used and isinstance(owned.part, HardDrive)
    ]
    chassis = build.one(Chassis)
    return Haul(
        drives,
        build.operation.layout,
        build.operation.n_parity,
        chassis.bays_35,
        chassis.bays_25,
        64,
    )


def _drive(name, role, part, owned, is_home):
    where = owned.sits_in if owned else None
    return Drive(
        name=name,
        role=role,
        bytes=part.capacity_bytes,
        held=held_bytes(owned, part),
        copy_elsewhere=bool(owned and owned.second_copy),
        comes_back=not owned or owned.bring_back,
        array=owned.old_array if owned else "",
        failing=bool(owned and owned.pending_sectors),
        bought=owned is None,
        remote=where == "another machine",
        here=bool(owned) and is_home and where not in ("another machine", "loose"),
        small=part.form == "2.5",
        in_slot=part.form == "m2",
    )


def see(seed):
    """Do one move by hand; return whether there was one."""
    build, asked = situation(seed)
    found = assess(build, asked)
    table = migration_dict(route_to(found))
    if not table["needed"] or not table["safe"]:
        return False
    haul = haul_of(build, asked)
    try:
        follow(haul, table["steps"])
    except LossError as error:
        steps = "\n".join(f"{s['number']} {s['text']}" for s in table["steps"])
        msg = f"seed {seed}: {error}\n{steps}"
        raise AssertionError(msg) from None
    assert haul.copied == table["copied_b"], seed
    return True


def test_moves_done_by_hand_lose_nothing():
    assert sum(map(see, range(50))) > 15


@pytest.mark.parametrize("seed", range(0, 24, 8))
def test_a_saved_build_moves_as_its_scenario_says(seed, tmp_path):
    build, asked = situation(seed)
    path = tmp_path / "build.toml"
    save_build(build, path, "test", asked)
    done = CliRunner().invoke(app, ["migrate", str(path), "--format", "json"])
    table = json.loads(done.stdout)
    wanted = json.loads(json.dumps(migration_dict(route_to(assess(build, asked)))))
    assert table["steps"] == wanted["steps"]
    assert done.exit_code == (0 if wanted["safe"] else 3)


def test_the_hand_sees_what_is_wrong():
    """A simulator that never refuses shows nothing."""
    seed = next(s for s in range(50) if see(s))
    build, asked = situation(seed)
    steps = migration_dict(route_to(assess(build, asked)))["steps"]
    for kind in ("copy", "verify", "fit", "test", "read back"):
        cut = [s for s in steps if s["kind"] != kind]
        if len(cut) < len(steps):
            with pytest.raises(LossError):
                follow(haul_of(build, asked), cut)


@pytest.mark.slow
@pytest.mark.parametrize("shard", range(10))
def test_thousands_of_moves_lose_nothing(shard):
    assert sum(map(see, range(1000 + 500 * shard, 1500 + 500 * shard))) > 100


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(0, 120, 2))
def test_moves_into_what_the_planner_finds_lose_nothing(seed):
    instance, _ = held_instance(seed, ROUTINE)
    found = plan(instance.catalog, instance.scenario, time_limit_s=TIME_LIMIT_S)
    if (
        found.assessment is None
        or found.assessment.build.operation.layout == "striped pairs"
    ):
        return
    table = migration_dict(route_to(found.assessment))
    if table["needed"]:
        counts = {o.id: o.count for o in instance.scenario.owned}
        if max(counts.values()) == 1:
            follow(haul_of(found.assessment.build, instance.scenario), table["steps"])

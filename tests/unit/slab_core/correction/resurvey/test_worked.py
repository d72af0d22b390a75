"""Work that was done exactly is right, whatever lips and keys it leaves; readings at borders count less."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from slab_core.correction.model import Plan
from slab_core.correction.resurvey.readings import kept_readings
from slab_core.correction.resurvey.standing import EarlierPlan, Followed, standing_of
from slab_core.correction.resurvey.worked import change_of, less_sure_at_borders
from slab_core.correction.resurvey.works import works_of
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats, Ints, to_metres
from slab_core.surface.change import changed_at
from slab_core.surface.fit import fit_surface
from slab_core.surface.model import Change, SurfaceOptions
from slab_core.surveys.model import Observations, Survey
from tests.invented_floors import LIFTED, Work, rectangle

FLOOR = rectangle(width_m=5.0, length_m=6.0)
FINE = SurfaceOptions(grid_step_m=0.05)
MM = 100


def _slab(x: Floats, y: Floats) -> Floats:
    """Deep in front and with a hump behind: two bays with a key in front of them, and a place to grind."""
    deep = -0.012 * np.clip((3.0 - y) / 0.8, 0.0, 1.0)
    return np.asarray(deep + 0.004 * np.exp(-(((x - 2.5) ** 2 + (y - 4.5) ** 2) / 0.5)))


def _read(survey: int, change: Change | None, *, step_m: float = 0.4) -> Observations:
    """The slab, with what was done to it, without any noise."""
    x, y = (a.ravel() for a in np.meshgrid(np.arange(0.12, 4.9, step_m), np.arange(0.12, 5.9, step_m)))
    done = 0.0 if change is None else changed_at(change, x_m=x, y_m=y)
    return Observations(
        x_m=np.repeat(x[:, None], 3, axis=1),
        y_m=np.repeat(y[:, None], 3, axis=1),
        weight=np.tile([1.0, 0.0, 0.0], (len(x), 1)),
        value_m=np.round(_slab(x, y) + done, 6),
        sd_m=np.full(len(x), 0.0005),
        position_sd_m=np.zeros(len(x)),
        pointer=tuple(f"/surveys/{survey}/readings/0/value/{k}" for k in range(len(x))),
    )


@cache
def _first() -> tuple[Work, Plan, Followed]:
    surface = fit_surface(floor=FLOOR, observations=_read(0, None), options=FINE, budget=Budget())
    job = Work(floor=FLOOR, surface=surface, changes={"compound": LIFTED})
    plan = job.plan()
    earlier = EarlierPlan(plan=plan, began=surface.height, lift_m=LIFTED.greatest_lift_m)
    return job, plan, Followed(estimate="first", plans=(earlier,), readings=1)


def _left(*done: str, step_m: float = 0.4) -> Plan:
    """The plan for what is left when this work was done exactly and the whole floor was read again."""
    job, _, followed = _first()
    change = change_of(plans=followed.plans, done=frozenset(done))
    before, after = _read(0, None), _read(1, change, step_m=step_m)
    seen = replace(
        before,
        **{
            name: np.concatenate([getattr(before, name), getattr(after, name)])
            for name in ("x_m", "y_m", "weight", "value_m", "sd_m", "position_sd_m")
        },
        pointer=before.pointer + after.pointer,
    )
    surveys = (Survey(id="before"), Survey(id="after", after=done))
    kept = kept_readings(floor_id="floor-1", observations=seen, surveys=surveys, followed=followed)
    surface = fit_surface(
        floor=FLOOR, observations=kept.observations, options=FINE, budget=Budget(), change=kept.change
    )
    standing = standing_of(floor_id="floor-1", surveys=surveys, followed=followed)
    return Work(floor=FLOOR, surface=surface, changes={**job.changes, "standing": standing}).plan()


def _grinding() -> tuple[str, ...]:
    return tuple(area.id for area in _first()[1].grind_areas)


def _wrong(plan: Plan) -> set[str]:
    return {one.code for one in plan.problems} & {
        "ground-too-little", "ground-too-deep", "filled-too-low", "filled-too-high"
    }  # fmt: skip


def test_exact_grinding_of_a_key_is_called_exact_and_nothing_is_ground_again() -> None:
    _, first, _ = _first()
    now = _left(*_grinding())
    assert _wrong(now) == set()
    assert now.grind_m3 < 0.02 * first.grind_m3
    assert sum(pour.volume_m3 for pour in now.pours) == pytest.approx(first.fill_m3, rel=0.01)


@pytest.mark.parametrize("step_m", [0.4, 0.2])
def test_one_bay_that_was_poured_exactly_leaves_the_other_bay_as_it_was_planned(step_m: float) -> None:
    _, first, _ = _first()
    assert len(first.pours) == 2
    done, rest = first.pours
    now = _left(*_grinding(), done.id, step_m=step_m)
    assert _wrong(now) == set()
    assert now.patches == ()
    (pour,) = now.pours
    assert pour.volume_m3 == pytest.approx(rest.volume_m3, rel=0.01)
    assert now.progress is not None
    (progress,) = [one for one in now.progress.works if one.id == done.id]
    assert progress.lowest is not None
    assert progress.lowest.off_m == pytest.approx(0.0, abs=0.0008)


def test_work_of_a_second_plan_counts_from_the_heights_that_the_first_one_began_from() -> None:
    """A place that was ground 1 mm and then, planned anew, to its height is changed by all of that."""
    job, plan, followed = _first()
    partly = job.surface.height - np.minimum(plan.grind, MM)
    rest: Ints = np.maximum(plan.grind - MM, 0).astype(np.int32)
    second = EarlierPlan(plan=replace(plan, grind=rest), began=partly, lift_m=followed.plans[0].lift_m)
    change = change_of(plans=(*followed.plans, second), done=frozenset(_grinding()))
    ground = np.zeros_like(rest)
    for work in works_of(followed.plans[0]):
        if work.kind == "grind":
            ground += work.depth
    deep = rest > 0
    assert np.array_equal(change.height[deep], -ground[deep])


def test_readings_within_an_inch_of_a_lip_are_less_sure_and_others_as_they_were() -> None:
    _, plan, followed = _first()
    change = change_of(plans=followed.plans, done=frozenset((*_grinding(), plan.pours[0].id)))
    lip_x = max(x for x, _ in plan.pours[0].outline)
    x = lip_x + np.array([-0.3, -0.004, 0.004, 0.3])
    seen = replace(
        _read(0, None),
        x_m=np.repeat(x[:, None], 3, axis=1),
        y_m=np.full((4, 3), 1.0),
        weight=np.tile([1.0, 0.0, 0.0], (4, 1)),
        value_m=np.zeros(4),
        sd_m=np.full(4, 0.0005),
        position_sd_m=np.zeros(4),
    )
    sd = less_sure_at_borders(seen, change=change, began=followed.plans[0].began).sd_m
    step_m = float(to_metres(plan.fill).max())
    assert sd[[0, 3]] == pytest.approx([0.0005, 0.0005])
    assert np.all((0.3 * step_m < sd[1:3]) & (sd[1:3] < 0.6 * step_m))

"""How surely a corrected floor passes: on floors whose truth is known, and on draws that chose nothing."""

from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import pytest

from slab_core.correction.assurance import assured
from slab_core.correction.assurance_floors import planned, site_of
from slab_core.correction.assurance_missed import missed
from slab_core.correction.assurance_model import Confidence, PlacingErrors
from slab_core.correction.assurance_odds import odds
from slab_core.correction.model import Plan
from slab_core.correction.plan import plan
from slab_core.correction.task import Task, make_task
from slab_core.materials import starter
from slab_core.materials.model import Climate
from slab_core.numerics.budget import Budget
from slab_core.surface.fit import fit_surface
from slab_core.surface.model import SurfaceOptions
from slab_core.tolerance.model import Rule, ToleranceReport
from tests.invented_floors import FEATHERED, FILM_M, Work
from tests.real_slabs import RealSlab, read_by_crew, real_slab
from tests.slabs import Slab

FOOT, INCH = 0.3048, 0.0254
LABOUR = starter.planning_costs().labour_per_ph
USUAL = PlacingErrors()
EXACT = PlacingErrors(screeded_m=0.0, ground_m=0.0, patched_m=0.0, free_m=0.0, ripple_m=0.0)


@dataclass(frozen=True, kw_only=True)
class Case:
    """A floor with its survey, ready to be planned under one set of rules."""

    real: RealSlab
    work: Work
    task: Task
    report: ToleranceReport

    def make(self, task: Task, report: ToleranceReport) -> Plan:
        return plan(
            floor=task.floor, surface=task.surface, report=report, budget=Budget(),
            **{**self.work._values(), "rules": task.rules, "limits": task.limits},
        )  # fmt: skip

    def assured(self, probability: float, *, placing: PlacingErrors = USUAL) -> Plan:
        return assured(
            task=self.task, report=self.report, make=self.make, labour_per_ph=LABOUR, budget=Budget(),
            asked=Confidence(probability=probability, placing=placing),
        )  # fmt: skip

    def again(self, plan: Plan, *, cycles: int, seed: int, count: int = 1000) -> float:
        """The probability by draws that neither chose nor judged."""
        lengths = tuple(rule.used_length_m for rule in self.report.rules)
        site = site_of(task=self.task, placing=USUAL, lengths_m=lengths)
        found = odds(
            site=site, plan=planned(site=site, plan=plan),
            missed=missed(site=site, plan=plan, budget=Budget()), count=count,
            cycles=cycles, rng=np.random.default_rng(seed), budget=Budget(),
        )  # fmt: skip
        return found.probability(cycles)


def _case(job: Work, real: RealSlab) -> Case:
    task = make_task(floor=job.floor, surface=job.surface, climate=Climate(), **job._values())
    return Case(real=real, work=job, task=task, report=job.report())


@cache
def _measured(
    seed: int, rules: tuple[Rule, ...], *, share: float = 1.0, sd_m: float = 0.0007, count: int = 80
) -> Case:
    rng = np.random.default_rng(seed)
    real = real_slab(rng=rng, width_m=3.0, depth_m=4.0)
    whole = real.slab.height
    flatter = Slab(floor=real.slab.floor, height=lambda x, y: np.asarray(share * whole(x, y)))
    real = replace(real, slab=flatter)
    readings = read_by_crew(real=real, count=count, rng=rng, sd_m=sd_m)
    surface = fit_surface(
        floor=real.slab.floor, observations=readings, options=SurfaceOptions(grid_step_m=0.1), budget=Budget()
    )
    changes = {"rules": rules, "compound": FEATHERED, "adhesive_film_m": FILM_M}
    return _case(Work(floor=real.slab.floor, surface=surface, changes=changes), real)


def _rule(feet: float, inches: float) -> Rule:
    return Rule(length_m=feet * FOOT, gap_m=inches * INCH)


@pytest.mark.parametrize(
    ("seed", "rules", "share"),
    [
        (11, (_rule(10, 1 / 8),), 1.0),
        (12, (_rule(6, 1 / 8),), 1.0),
        (13, (_rule(10, 1 / 16),), 0.5),
        (14, (_rule(6, 3 / 16), _rule(2, 1 / 8)), 0.5),
    ],
)
def test_the_probability_holds_within_three_points_on_draws_that_neither_chose_nor_judged(
    seed: int, rules: tuple[Rule, ...], share: float
) -> None:
    case = _measured(seed, rules, share=share)
    found = case.assured(0.8)
    assert found.assurance is not None
    chosen = found.assurance.chosen
    again = case.again(found, cycles=chosen.finish_cycles, seed=99, count=3000)
    assert chosen.probability == pytest.approx(again, abs=0.03)
    assert chosen.probability_se < 0.03
    assert chosen.reached is (chosen.probability >= 0.8)

"""How surely a corrected floor passes: how long that takes, whether it holds on other draws, and how often
floors truly pass that an own simulation of crews builds on true slabs.

The slabs are those that look like slabs (tests/real_slabs.py), whole, half and a quarter as uneven, and their
seeds are others than were looked at while the model was made.
"""

from dataclasses import dataclass, replace

import numpy as np

from slab_core.correction.assurance.assured import assured
from slab_core.correction.assurance.floors import planned
from slab_core.correction.assurance.missed import finer_of, missed
from slab_core.correction.assurance.odds import odds
from slab_core.correction.assurance.site import site_of
from slab_core.correction.assurance_model import Confidence, PlacingErrors
from slab_core.correction.model import Plan
from slab_core.correction.pending import Pending, as_it_is
from slab_core.correction.plan import plan
from slab_core.correction.task import Task
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import to_metres
from slab_core.surface.fit import fit_surface
from slab_core.surface.model import SurfaceOptions
from slab_core.tolerance.check import check_heights
from slab_core.tolerance.model import Rule, ToleranceReport
from tests.benchmarks.measure import Figure, measures, processor_seconds
from tests.crews import built_m, true_heights_m
from tests.invented_floors import FOOT_M, INCH_M, Work
from tests.real_slabs import RealSlab, read_by_crew, real_slab
from tests.slabs import Slab

TEN_FEET = (Rule(length_m=10 * FOOT_M, gap_m=INCH_M / 8),)
SIX_FEET = (Rule(length_m=6 * FOOT_M, gap_m=INCH_M / 8),)
PAIR = (Rule(length_m=10 * FOOT_M, gap_m=3 * INCH_M / 16), Rule(length_m=2 * FOOT_M, gap_m=INCH_M / 8))
TIGHT = (Rule(length_m=10 * FOOT_M, gap_m=INCH_M / 16),)
EASY = (Rule(length_m=10 * FOOT_M, gap_m=3 * INCH_M / 16),)

FIRST_SEED, SLABS, CREWS = 910_000, 20, 40
CHECKED, CHECKS = 6, 2000


@dataclass(frozen=True, kw_only=True)
class Case:
    """A slab, its survey, and what its rules make of it."""

    real: RealSlab
    work: Work
    task: Task
    report: ToleranceReport

    def make(self, task: Task, report: ToleranceReport) -> Plan:
        values = {**self.work._values(), "rules": task.rules}
        return plan(floor=task.floor, surface=task.surface, report=report, budget=Budget(), **values)

    def pending(self, task: Task, report: ToleranceReport, _beat: float, _share: float) -> Pending:
        return as_it_is(self.make(task, report))

    def assured(self, probability: float) -> Plan:
        labour = self.work._values()["planning"].labour_per_ph
        asked = Confidence(probability=probability)
        return assured(
            task=self.task, report=self.report, make=self.pending, asked=asked, labour_per_ph=labour,
            budget=Budget(),
        )  # fmt: skip

    def said(self, made: Plan, *, cycles: int, count: int, seed: int) -> float:
        lengths = tuple(report.used_length_m for report in self.report.rules)
        site = site_of(task=self.task, placing=PlacingErrors(), lengths_m=lengths)
        found = odds(
            site=site, plan=planned(site=site, plan=made),
            missed=missed(site=site, finer=finer_of(site), plan=made, budget=Budget()), count=count,
            cycles=cycles, rng=np.random.default_rng(seed), budget=Budget(),
        )  # fmt: skip
        return found.probability(cycles)

    def truly(self, made: Plan, *, seed: int) -> float:
        """Of so many crews, the share whose floor passes by the tolerance code on the surface's grid."""
        rng = np.random.default_rng(seed)
        slab, fitted = true_heights_m(real=self.real, plan=made), to_metres(self.task.surface.height)
        passed = 0
        for _ in range(CREWS):
            found = check_heights(
                floor=self.task.floor,
                grid=made.grid,
                inside=made.inside,
                rules=self.task.rules,
                heights_m=built_m(slab_m=slab, fitted_m=fitted, plan=made, rng=rng),
            )
            passed += all(report.passes for report in found)
        return passed / CREWS


def _case(
    seed: int, rules: tuple[Rule, ...], *, size: tuple[float, float], count: int, step_m: float
) -> Case:
    rng = np.random.default_rng(seed)
    real = real_slab(rng=rng, width_m=size[0], depth_m=size[1])
    share, whole = (1.0, 0.5, 0.25)[seed % 3], real.slab.height
    flatter = Slab(floor=real.slab.floor, height=lambda x, y: np.asarray(share * whole(x, y)))
    real = replace(real, slab=flatter)
    seen = read_by_crew(real=real, count=count, rng=rng)
    options = SurfaceOptions(grid_step_m=step_m)
    surface = fit_surface(floor=flatter.floor, observations=seen, options=options, budget=Budget())
    work = Work(floor=flatter.floor, surface=surface, changes={"rules": rules})
    return Case(real=real, work=work, task=work.task(), report=work.report())


@measures("assurance.seconds")
def bench_seconds() -> list[Figure]:
    """A room of 35 m² read 200 times, 90 % asked for: processor seconds, the planning itself in them."""
    figures = []
    for name, rules in (("3_16_in_10_ft", EASY), ("1_8_in_10_ft", TEN_FEET), ("1_16_in_10_ft", TIGHT)):
        case = _case(FIRST_SEED, rules, size=(5.0, 7.0), count=200, step_m=0.05)
        _, spent = processor_seconds(lambda case=case: case.assured(0.9), rounds=1)  # type: ignore[misc]
        figures.append(_figure(f"assurance.seconds.{name}", spent, unit="s", n=1))
    return figures


@measures("assurance.fresh_")
def bench_on_other_draws() -> list[Figure]:
    """What was said of the chosen plan beside what draws say that neither chose nor judged, in points."""
    apart = []
    for k in range(CHECKED):
        rules = (TEN_FEET, SIX_FEET, TIGHT)[k % 3]
        case = _case(FIRST_SEED + k, rules, size=(3.0, 4.0), count=80, step_m=0.1)
        for asked in (0.8, 0.95):
            made = case.assured(asked)
            assert made.assurance is not None
            chosen = made.assurance.chosen
            again = case.said(made, cycles=chosen.finish_cycles, count=CHECKS, seed=77)
            apart.append(100.0 * abs(chosen.probability - again))
    return [
        _figure("assurance.fresh_largest_points", max(apart), unit="points", n=len(apart)),
        _figure("assurance.fresh_mean_points", float(np.mean(apart)), unit="points", n=len(apart)),
    ]


@measures("assurance.true_")
def bench_true_slabs() -> list[Figure]:
    """Plans without finishing: mean share of true floors that pass, beside the mean that was said of them."""
    figures = []
    for name, rules in (("1_8_in_10_ft", TEN_FEET), ("1_8_in_6_ft", SIX_FEET), ("pair", PAIR)):
        said, true = [], []
        for seed in range(FIRST_SEED, FIRST_SEED + SLABS):
            case = _case(seed, rules, size=(3.0, 4.0), count=80, step_m=0.1)
            made = case.make(case.task, case.report)
            said.append(case.said(made, cycles=0, count=300, seed=5))
            true.append(case.truly(made, seed=seed))
        figures.append(
            Figure(
                name=f"assurance.true_share.{name}",
                value=float(np.mean(true)),
                unit="share",
                peer="mean of what was said",
                peer_value=float(np.mean(said)),
                n=SLABS * CREWS,
                memory_mb=None,
            )
        )
        apart = float(np.sqrt(np.mean(np.square(np.array(said) - true))))
        figures.append(_figure(f"assurance.true_rms_by_slab.{name}", apart, unit="share", n=SLABS))
    return figures


def _figure(name: str, value: float, *, unit: str, n: int) -> Figure:
    return Figure(name=name, value=value, unit=unit, peer=None, peer_value=None, n=n, memory_mb=None)

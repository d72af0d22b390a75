"""Schedules: projects of 30 and 120 activities against references, the firm's plan, and a plan after a slip.

A large project has one second of one core, measured on the thread, so that other work on the machine does
not count; so has CP-SAT by itself beside it. The firm has six crews, forty jobs of eleven tasks over twelve
weeks and five machines; its seeds are others than those looked at while the search was written. Every job is
promised some days after a first plan would finish it, as a firm would promise.
"""

import time
from dataclasses import replace

import numpy as np

from slab_core.numerics.budget import Budget
from slab_core.schedule.firm.model import Firm
from slab_core.schedule.firm.plan import plan_firm
from slab_core.schedule.firm.replan import replan_firm
from slab_core.schedule.project.search import ProjectPlan, plan_project
from tests.benchmarks.measure import Figure, cores, measures
from tests.benchmarks.project_instances import Instance, digest, large, read_references, small
from tests.benchmarks.project_peer import solver_alone
from tests.support.firms import START, invented_firm

SMALL_S, LARGE_S, FIRM_S, REPLAN_S = 2.0, 1.0, 30.0, 3.0
FIRM_SEEDS = (970_001, 970_002, 970_003)
SLIPS = 5


def _figure(
    name: str, value: float, unit: str, n: int, peer: str | None = None, other: float | None = None
) -> Figure:
    return Figure(name=name, value=value, unit=unit, peer=peer, peer_value=other, n=n, memory_mb=None)


def _planned(instance: Instance, *, seconds: float, thread: bool, workers: int) -> ProjectPlan:
    clock = time.thread_time if thread else time.perf_counter
    budget = Budget(deadline_s=clock() + seconds, clock=clock)
    return plan_project(project=instance.project(), budget=budget, workers=workers)


@measures("schedule.j30.")
def bench_small_projects() -> list[Figure]:
    """How many end at the proven optimum within two seconds of the wall clock, and how many are proven so."""
    references = read_references()
    best, proven, unknown = [], [], 0
    _planned(small()[0], seconds=SMALL_S, thread=False, workers=1)  # compiles
    for instance in small():
        reference = references[instance.name]
        assert reference["digest"] == digest(instance.project())
        if reference["bound"] < reference["makespan"]:
            unknown += 1
            continue
        plan = _planned(instance, seconds=SMALL_S, thread=False, workers=min(2, cores()))
        best.append(plan.makespan == reference["makespan"])
        proven.append(plan.optimal)
    return [
        _figure("schedule.j30.optimal_share", float(np.mean(best)), "1", len(best)),
        _figure("schedule.j30.proven_share", float(np.mean(proven)), "1", len(proven)),
        _figure("schedule.j30.optimum_unknown", float(unknown), "instances", len(small())),
    ]


@measures("schedule.j120.")
def bench_large_projects() -> list[Figure]:
    """Mean gaps to the references in a second, ours and the solver's, and the least time a reference had."""
    references = read_references()
    ours, alone, seconds = [], [], []
    _planned(large()[0], seconds=LARGE_S, thread=True, workers=1)  # compiles
    for instance in large():
        reference = references[instance.name]
        assert reference["digest"] == digest(instance.project())
        known = reference["makespan"]
        plan = _planned(instance, seconds=LARGE_S, thread=True, workers=1)
        peer, _ = solver_alone(instance.project(), seconds=LARGE_S)
        ours.append(plan.makespan / known - 1.0)
        alone.append((peer or sum(instance.project().lengths)) / known - 1.0)
        seconds.append(reference["seconds"])
    gap, peer_gap = float(np.mean(ours)), float(np.mean(alone))
    return [
        _figure("schedule.j120.gap", gap, "1", len(ours), "CP-SAT alone", peer_gap),
        _figure("schedule.j120.gap_vs_cpsat", gap / peer_gap, "1", len(ours)),
        _figure("schedule.j120.reference_s", min(seconds), "s", len(ours)),
    ]


@measures("schedule.firm.", "schedule.replan_s")
def bench_firm() -> list[Figure]:
    """The firm's plan, feasible and after 30 s, and the same firm after a visit has overrun by a day."""
    tiny = invented_firm(seed=1, crews=3, jobs=3)
    visits = plan_firm(firm=tiny, from_minute=START, budget=Budget()).visits
    replan_firm(firm=tiny, before=visits, now=START, budget=_within(0.0))  # both compile
    feasible, gaps, late, replans, needless = [], [], [], [], []
    for seed in FIRM_SEEDS:
        firm = _promised(seed)
        begin = time.perf_counter()
        plan_firm(firm=firm, from_minute=START, budget=_within(0.0))
        feasible.append(time.perf_counter() - begin)
        plan = plan_firm(firm=firm, from_minute=START, budget=_within(FIRM_S))
        gaps.append(plan.gap)
        late.append(plan.late_minutes / 1440)
        for n in range(SLIPS):
            now = START + (14 + 7 * n) * 1440
            begun = [visit for visit in plan.visits if visit.start_minute < now]
            slipped = replace(begun[-1], end_minute=begun[-1].end_minute + 1440)
            before = tuple(slipped if visit == begun[-1] else visit for visit in plan.visits)
            begin = time.perf_counter()
            after = replan_firm(firm=firm, before=before, now=now, budget=_within(0.6 * REPLAN_S))
            replans.append(time.perf_counter() - begin)
            needless.append(len(set(after.newly_late) - {slipped.job}))
    return [
        _figure("schedule.firm.feasible_s", max(feasible), "s", len(feasible)),
        _figure("schedule.firm.gap", max(gaps), "1", len(gaps)),
        _figure("schedule.firm.late_days", max(late), "days", len(late)),
        _figure("schedule.replan_s", max(replans), "s", len(replans)),
        _figure("schedule.replan.other_promises_broken", float(sum(needless)), "jobs", len(needless)),
    ]


def _promised(seed: int) -> Firm:
    """The invented firm, each job promised for two to ten days after its end in a plan without promises."""
    firm = invented_firm(seed=seed)
    loose = replace(firm, jobs=tuple(replace(job, promised=None) for job in firm.jobs))
    visits = plan_firm(firm=loose, from_minute=START, budget=_within(0.0)).visits
    spare = np.random.default_rng(seed).integers(2, 11, len(firm.jobs)) * 1440
    ends = {job.id: max(visit.end_minute for visit in visits if visit.job == job.id) for job in firm.jobs}
    jobs = (replace(job, promised=ends[job.id] + int(s)) for job, s in zip(firm.jobs, spare, strict=True))
    return replace(firm, jobs=tuple(jobs))


def _within(seconds: float) -> Budget:
    return Budget(deadline_s=time.perf_counter() + seconds, clock=time.perf_counter)

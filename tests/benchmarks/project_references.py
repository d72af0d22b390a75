"""`python -m tests.benchmarks.project_references [--seconds S] [--share K/N]`: make the references better.

A small project is solved by CP-SAT, from a schedule of the genetic search, until it is proven best or time is
over; what it cannot prove, our own branching does. A large one gets, in each round, some seconds of the
processor of the genetic search with a large population and a new seed, then some of CP-SAT with eight workers
on one core, started from the best schedule; the best of all rounds stays. What has had the least time comes
first, until each has had S seconds of the processor; the file is written after each round, so that they may
be stopped and go on another day. Several processes, each with its own share of the projects, may write the
same file: `--share 1/2` and `--share 2/2` keep two cores busy.
"""

import argparse
import fcntl
import time
from pathlib import Path

from slab_base.threads import one_thread

one_thread()

from slab_core.numerics.budget import Budget  # noqa: E402 - threads come before numpy
from slab_core.schedule.project.branching import branched  # noqa: E402 - the same
from slab_core.schedule.project.genetic import Genetic  # noqa: E402 - the same
from slab_core.schedule.project.model import Project  # noqa: E402 - the same
from slab_core.schedule.project.search import least_makespan  # noqa: E402 - the same
from tests.benchmarks.project_instances import (  # noqa: E402 - the same
    Instance,
    Reference,
    digest,
    large,
    read_references,
    small,
    write_references,
)
from tests.benchmarks.project_peer import solver_alone  # noqa: E402 - the same

PROOF_S = 60.0
GENETIC_S, SOLVER_S = 7.5, 2.5
POPULATION = 400


def main() -> None:
    """Small ones that have no proof yet, then rounds over the large ones."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=600.0, help="of processor for each large project")
    parser.add_argument("--share", default="1/1", help="which of how many equal shares of the projects")
    asked = parser.parse_args()
    share, shares = (int(part) for part in asked.share.split("/"))
    known = read_references()
    for instance in small()[share - 1 :: shares]:
        found = _of(instance, known)
        if found is None or found["bound"] < found["makespan"]:
            _keep(instance, _proven(instance.project()))
    found_of = {instance: _of(instance, known) for instance in large()[share - 1 :: shares]}
    while True:
        instance = min(found_of, key=lambda one: _seconds(found_of[one]))
        if _seconds(found_of[instance]) >= asked.seconds:
            return
        better = _bettered(instance.project(), found_of[instance])
        found_of[instance] = better
        _keep(instance, better)


def _of(instance: Instance, known: dict[str, Reference]) -> Reference | None:
    found = known.get(instance.name)
    return found if found and found["digest"] == digest(instance.project()) else None


def _seconds(known: Reference | None) -> float:
    return known["seconds"] if known else 0.0


def _keep(instance: Instance, found: Reference) -> None:
    print(instance.name, found, flush=True)
    with Path(__file__).open() as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        write_references({**read_references(), instance.name: found})


def _proven(project: Project) -> Reference:
    begin = time.process_time()
    search = Genetic(project=project, population=POPULATION)
    search.run(budget=Budget(), schedules=100_000, good_enough=least_makespan(project))
    makespan, bound = solver_alone(project, seconds=PROOF_S, hint=search.starts)
    makespan, made = min(search.makespan, makespan or search.makespan), "CP-SAT, proven"
    if bound < makespan:
        found = branched(project=project, makespan=makespan, budget=Budget())
        makespan = found.makespan
        bound, made = (makespan, "branching, proven") if found.proven else (bound, "not proven")
    return Reference(
        digest=digest(project),
        makespan=makespan,
        bound=bound,
        seconds=round(time.process_time() - begin, 1),
        made=made,
    )


def _bettered(project: Project, known: Reference | None) -> Reference:
    before = known["seconds"] if known else 0.0
    begin, clock = time.process_time(), time.process_time
    search = Genetic(project=project, population=POPULATION, seed=1 + round(before))
    budget = Budget(deadline_s=begin + GENETIC_S, clock=clock)
    search.run(budget=budget, schedules=float("inf"), good_enough=least_makespan(project))
    makespan, bound = solver_alone(project, seconds=SOLVER_S, workers=8, hint=search.starts)
    found = min(search.makespan, makespan or search.makespan, *([known["makespan"]] if known else []))
    return Reference(
        digest=digest(project),
        makespan=found,
        bound=max(bound, least_makespan(project), known["bound"] if known else 0),
        seconds=round(before + time.process_time() - begin, 1),
        made="rounds: genetic search (population 400) for 3/4, CP-SAT (8 workers) for 1/4 of the time",
    )


if __name__ == "__main__":
    main()

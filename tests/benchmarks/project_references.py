"""`python -m tests.benchmarks.project_references [--rounds N]`: make the references better.

A small project is solved by CP-SAT, from a schedule of the genetic search, until it is proven best or time is
over; what it cannot prove, our own branching does. A large one gets, in each round, some seconds of the
processor of the genetic search with a large population and a new seed, then some of CP-SAT with eight workers
on one core, started from the best schedule; the best of all rounds stays. What has had the least time comes
first, and the file is written after each, so that the rounds may be stopped and go on another day.
"""

import argparse
import time

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
    parser.add_argument("--rounds", type=int, default=60, help="of 10 s for each large project")
    rounds = parser.parse_args().rounds
    references = read_references()
    for instance in small():
        known = references.get(instance.name)
        if (
            known is None
            or known["digest"] != digest(instance.project())
            or known["bound"] < known["makespan"]
        ):
            references[instance.name] = _proven(instance.project())
            _tell(instance, references)
    for _ in range(rounds * len(large())):
        instance = min(large(), key=lambda one: references.get(one.name, {"seconds": 0.0})["seconds"])
        references[instance.name] = _bettered(instance.project(), references.get(instance.name))
        _tell(instance, references)


def _tell(instance: Instance, references: dict[str, Reference]) -> None:
    print(instance.name, references[instance.name], flush=True)
    write_references(references)


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
    if known is not None and known["digest"] != digest(project):
        known = None
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

"""CP-SAT by itself on a project, for so many seconds of the processor whatever else the machine does."""

import threading
import time

from ortools.sat.python import cp_model

from slab_core.schedule.project.model import Project
from slab_core.schedule.project.solver import project_model

POLL_S = 0.005


def solver_alone(
    project: Project, *, seconds: float, workers: int = 1, hint: tuple[int, ...] | None = None
) -> tuple[int | None, int]:
    """The makespan found (None without one) and the proven bound; reading the model counts."""
    begin = time.process_time()
    horizon = sum(project.lengths)
    if hint is not None:
        horizon = max(start + length for start, length in zip(hint, project.lengths, strict=True))
    model, _ = project_model(project=project, horizon=horizon, hint=hint)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = workers
    solver.parameters.random_seed = 1
    done = threading.Event()

    def watch() -> None:
        while not done.wait(POLL_S):
            if time.process_time() - begin >= seconds:
                solver.stop_search()

    watcher = threading.Thread(target=watch)
    watcher.start()
    status = solver.solve(model)
    done.set()
    watcher.join()
    bound = max(0, int(-(-solver.best_objective_bound // 1)))
    found = status in (cp_model.OPTIMAL, cp_model.FEASIBLE)
    return (int(solver.objective_value) if found else None), bound

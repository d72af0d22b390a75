"""The whole line in memory: for tests, and for anyone who wants the maths without a database."""

from dataclasses import dataclass, field
from typing import Any, TypeVar

from slab_core.errors import Problem
from slab_core.job import Job
from slab_core.numerics.budget import Budget
from slab_core.numerics.digest import recipe
from slab_core.pipeline.orders import order
from slab_core.rooms.build import build_rooms
from slab_core.scans.model import ReadScan
from slab_core.stages import StepSpec, plan_steps
from slab_core.surveys.scan_heights import scans_of

Model = TypeVar("Model")
Key = tuple[str, str, str]


@dataclass(slots=True)
class Line:
    """Results so far, by (stage, subject, alternate). Also what a step reads earlier results from.

    `refused` says that the line ended early; alternates that were `given_up` are other than the main one.
    """

    models: dict[Key, Any] = field(default_factory=dict)
    digests: dict[Key, bytes] = field(default_factory=dict)
    seconds: dict[Key, float] = field(default_factory=dict)
    refused: bool = False
    given_up: set[str] = field(default_factory=set)

    def model(self, kind: type[Model], stage: str, subject: str, alternate: str = "") -> Model:
        """The result of an earlier step."""
        found = self.models[(stage, subject, alternate)]
        assert isinstance(found, kind)
        return found

    def digest(self, stage: str, subject: str, alternate: str = "") -> bytes:
        """The recipe of an earlier step."""
        return self.digests[(stage, subject, alternate)]

    def problems(self) -> tuple[Problem, ...]:
        """Every stage's problems, in the order of the line."""
        return tuple(problem for model in self.models.values() for problem in model.problems)


def run(
    *,
    job: Job,
    budget: Budget | None = None,
    read: ReadScan | None = None,
) -> Line:
    """Compute every stage of the job, and all its alternates; stop after the step that refuses it. An
    alternate other than the main one is refused alone. `read` reads scans' files.

    Raises
    ------
    InputRefused
        when the rooms cannot be built at all.
    """
    budget = budget or Budget()
    line = Line()
    floors = tuple(floor.id for floor in build_rooms(rooms=job.rooms).floors)
    scans = tuple(scan.id for scan, _ in scans_of(job.surveys))
    steps = plan_steps(floor_ids=floors, scan_ids=scans, alternates=job.alternates, basis=job.basis)
    for step in steps:
        if step.alternate in line.given_up:
            continue
        refuses = _take(line=line, job=job, step=step, budget=budget, read=read)
        if refuses and step.alternate in ("", job.alternates[0]):
            line.refused = True
            break
        if refuses:
            line.given_up.add(step.alternate)
    return line


def _take(*, line: Line, job: Job, step: StepSpec, budget: Budget, read: ReadScan | None) -> bool:
    """Whether the result refuses the job or the alternate."""
    key = (step.stage, step.subject, step.alternate)
    started = budget.clock()
    todo = order(job=job, step=step, earlier=line, read=read)
    model = todo.compute(budget)
    line.digests[key] = recipe(
        stage=step.stage, version=step.version, inputs=todo.inputs, upstream=todo.upstream
    )
    line.models[key] = model
    line.seconds[key] = budget.clock() - started
    return any(problem.severity == "refusal" for problem in model.problems)

"""The one list of stages: names, subjects, inputs, versions and queues, as pure data.

The API reads this without loading any algorithm; `pipeline` maps the names to functions.
"""

from dataclasses import dataclass
from typing import Literal

Basis = Literal["surveyed", "allowance"]
"""What an estimate knows of the slab: readings, or what slabs of its kind usually take."""

Subject = Literal["job", "floor", "scan", "firm"]
Queue = Literal["light", "heavy"]

JOB = "job"
"""Subject id of a step that belongs to the whole job and not to one floor."""

PLANE, LEVEL, GRIND_ONLY, FILL_ONLY = "plane", "level", "grind-only", "fill-only"
CHEAPEST = "cheapest"
ALLOWANCE = "allowance"
"""The one alternate of an estimate before anybody has seen the slab."""

OF_THE_SLAB = frozenset({"scans", "surveys", "surface", "tolerance", "correction"})
"""Stages that need readings."""

ALTERNATES = (PLANE, LEVEL, GRIND_ONLY, FILL_ONLY, CHEAPEST)
"""Ways to correct a floor that may be asked for side by side: the cheapest plane of any slope, the cheapest
level one, the cheapest ones for which nothing is filled or nothing is ground, and the cheapest floor of all
that passes, trowelled, poured and ground where each costs least."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """One stage of the line. `version` is raised by hand whenever its results change."""

    name: str
    subject: Subject
    inputs: tuple[str, ...]
    version: int
    queue: Queue = "light"
    by_alternate: bool = False


STAGES: tuple[Stage, ...] = (
    Stage(name="rooms", subject="job", inputs=(), version=2),
    Stage(name="scans", subject="scan", inputs=("rooms",), version=1, queue="heavy"),
    Stage(name="surveys", subject="job", inputs=("rooms", "scans"), version=3),
    Stage(name="surface", subject="floor", inputs=("rooms", "scans", "surveys"), version=9),
    Stage(name="tolerance", subject="floor", inputs=("rooms", "surveys", "surface"), version=7),
    Stage(
        name="correction",
        subject="floor",
        inputs=("rooms", "surface", "tolerance"),
        version=45,
        by_alternate=True,
    ),
    Stage(name="layout", subject="floor", inputs=("rooms",), version=15),
    Stage(
        name="takeoff",
        subject="job",
        inputs=("rooms", "surveys", "surface", "tolerance", "correction", "layout"),
        version=24,
        by_alternate=True,
    ),
    Stage(name="schedule", subject="job", inputs=("takeoff",), version=8, by_alternate=True),
    Stage(name="quote", subject="job", inputs=("takeoff", "schedule"), version=9, by_alternate=True),
)

BY_NAME: dict[str, Stage] = {stage.name: stage for stage in STAGES}

FIRM_SCHEDULE = Stage(name="firm-schedule", subject="firm", inputs=(), version=12, queue="heavy")
"""The one stage of another kind of run, which plans all jobs of the firm together."""

VERSIONS: dict[str, int] = {stage.name: stage.version for stage in (*STAGES, FIRM_SCHEDULE)}
"""What this code can compute, of every kind of run."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StepSpec:
    """A step of a run. `needs` are positions of earlier steps in the same plan."""

    stage: str
    subject: str
    alternate: str
    version: int
    queue: Queue
    needs: tuple[int, ...]


def firm_steps() -> tuple[StepSpec, ...]:
    """All steps of one schedule of the firm."""
    stage = FIRM_SCHEDULE
    return (
        StepSpec(
            stage=stage.name,
            subject=stage.subject,
            alternate="",
            version=stage.version,
            queue=stage.queue,
            needs=(),
        ),
    )


def plan_steps(
    *,
    floor_ids: tuple[str, ...],
    scan_ids: tuple[str, ...] = (),
    alternates: tuple[str, ...] = (PLANE,),
    basis: Basis = "surveyed",
) -> tuple[StepSpec, ...]:
    """All steps of one estimate in an order in which every step comes after what it needs.

    A stage that does not differ by alternate is computed once and has the alternate "". Without readings
    there are no stages of the slab.
    """
    subjects: dict[Subject, tuple[str, ...]] = {"job": (JOB,), "floor": floor_ids, "scan": scan_ids}
    steps: list[StepSpec] = []
    for stage in STAGES:
        if basis == "allowance" and stage.name in OF_THE_SLAB:
            continue
        for alternate in alternates if stage.by_alternate else ("",):
            for subject in subjects[stage.subject]:
                needs = _needs(steps=steps, stage=stage, subject=subject, alternate=alternate)
                steps.append(
                    StepSpec(
                        stage=stage.name,
                        subject=subject,
                        alternate=alternate,
                        version=stage.version,
                        queue=stage.queue,
                        needs=needs,
                    )
                )
    return tuple(steps)


def _needs(*, steps: list[StepSpec], stage: Stage, subject: str, alternate: str) -> tuple[int, ...]:
    def wanted(step: StepSpec) -> bool:
        # A scan may show any floor.
        same_subject = BY_NAME[step.stage].subject == "scan" or JOB in (step.subject, subject)
        same_subject = same_subject or step.subject == subject
        return step.stage in stage.inputs and same_subject and step.alternate in ("", alternate)

    return tuple(i for i, step in enumerate(steps) if wanted(step))

"""The firm's plan as bars in rows, for whoever draws it; no algorithm but sorting."""

from dataclasses import dataclass
from typing import Literal

from slab_core.schedule.firm.asked import FirmQuestion
from slab_core.schedule.firm.model import FirmJob, FirmPlan, Visit


@dataclass(frozen=True, slots=True, kw_only=True)
class GanttRow:
    """A crew or a machine, and its bars by start."""

    id: str
    kind: Literal["crew", "machine"]
    bars: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class GanttBar:
    """A visit. `id` is job and task; a bar with a machine stands in two rows. Up to `latest_start_minute` it
    may start later while all others stay where they are. `holds` say who has to settle what at it."""

    id: str
    job: str
    what: str
    people: int
    start_minute: int
    end_minute: int
    latest_start_minute: int
    holds: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class GanttLink:
    """From the end of a bar to the start of another, with the wait between them."""

    before: str
    after: str
    least_minutes: int
    greatest_minutes: int | None
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class GanttJob:
    """From a job's first start to its last end, and for when it is promised."""

    id: str
    site: str
    start_minute: int
    finish_minute: int
    promised_minute: int | None
    late_minutes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Gantt:
    """Rows, bars, links and jobs, each in order."""

    rows: tuple[GanttRow, ...]
    bars: tuple[GanttBar, ...]
    links: tuple[GanttLink, ...]
    jobs: tuple[GanttJob, ...]


def gantt(*, question: FirmQuestion, plan: FirmPlan) -> Gantt:
    """The plan that answers the question, as a chart."""
    visits = sorted(plan.visits, key=lambda visit: (visit.start_minute, visit.job, visit.task))
    latest = dict(zip(plan.visits, plan.latest_start_minute, strict=True))
    tasks = {(job.id, task.id): task for job in question.jobs for task in job.tasks}
    return Gantt(
        rows=(
            *(_row(crew.id, "crew", [v for v in visits if v.crew == crew.id]) for crew in question.crews),
            *(
                _row(one.id, "machine", [v for v in visits if v.machine == one.id])
                for one in question.machines
            ),
        ),
        bars=tuple(
            GanttBar(
                id=_bar(visit.job, visit.task),
                job=visit.job,
                what=tasks[visit.job, visit.task].what,
                people=visit.people,
                start_minute=visit.start_minute,
                end_minute=visit.end_minute,
                latest_start_minute=latest[visit],
                holds=tasks[visit.job, visit.task].holds,
            )
            for visit in visits
        ),
        links=tuple(
            GanttLink(
                before=_bar(job.id, lag.after),
                after=_bar(job.id, task.id),
                least_minutes=lag.least_minutes,
                greatest_minutes=lag.greatest_minutes,
                why=lag.why,
            )
            for job in question.jobs
            for task in job.tasks
            for lag in task.lags
        ),
        jobs=tuple(_job(job, [v for v in visits if v.job == job.id]) for job in question.jobs),
    )


def _row(id: str, kind: Literal["crew", "machine"], visits: list[Visit]) -> GanttRow:
    return GanttRow(id=id, kind=kind, bars=tuple(_bar(visit.job, visit.task) for visit in visits))


def _bar(job: str, task: str) -> str:
    return f"{job}/{task}"


def _job(job: FirmJob, visits: list[Visit]) -> GanttJob:
    finish = max(visit.end_minute for visit in visits)
    return GanttJob(
        id=job.id,
        site=job.site,
        start_minute=min(visit.start_minute for visit in visits),
        finish_minute=finish,
        promised_minute=job.promised,
        late_minutes=0 if job.promised is None else max(0, finish - job.promised),
    )

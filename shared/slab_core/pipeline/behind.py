"""What is behind a job that is measured again while its work goes on, for the stages after the correction."""

from slab_core.correction.resurvey.standing import done_work, last_plans
from slab_core.job import Job
from slab_core.schedule.resting import NOTHING_RESTS, Resting
from slab_core.takeoff.done import EarlierWork


def work_behind(job: Job) -> EarlierWork | None:
    """What is done of the plans that the job followed, if any."""
    followed = job.followed
    if followed is None:
        return None
    return EarlierWork(
        plans=tuple(last_plans(followed).values()),
        done=tuple(sorted(done_work(surveys=job.surveys, followed=followed))),
        finished=followed.done_before,
        readings=followed.readings,
    )


def still_resting(job: Job) -> Resting:
    """What was poured of the plans that the job followed; at a time that nobody tells, just now."""
    followed = job.followed
    if followed is None:
        return NOTHING_RESTS
    done = done_work(surveys=job.surveys, followed=followed)
    deepest: dict[tuple[str, int], float] = {}
    for plan in (earlier.plan for earlier in followed.plans):
        for pour in (pour for pour in plan.pours if pour.id in done):
            place = (plan.floor_id, pour.phase)
            deepest[place] = max(pour.greatest_depth_m, deepest.get(place, 0.0))
    since = None if followed.poured_at is None else job.earliest_start - followed.poured_at
    return Resting(
        depths=tuple((floor, phase, depth) for (floor, phase), depth in sorted(deepest.items())),
        rested_hours=0.0 if since is None else max(0.0, since.total_seconds() / 3600.0),
    )

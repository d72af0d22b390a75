"""What is behind a job that is measured again while its work goes on, for the stages after the correction."""

from slab_core.correction.resurveyed import done_work, last_plans
from slab_core.job import Job
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

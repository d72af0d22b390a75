"""What is behind a job that is measured again while its work goes on, for the stages after the correction."""

from slab_core.correction.resurveyed import done_work, has_poured, last_plans
from slab_core.job import Job
from slab_core.takeoff.done import EarlierWork, finished_codes


def work_behind(job: Job) -> tuple[frozenset[str], EarlierWork | None]:
    """Kinds of work that are done in the whole job, and what is done of the plans that it followed."""
    followed = job.followed
    if followed is None:
        return frozenset(), None
    poured = has_poured(surveys=job.surveys, followed=followed)
    work = EarlierWork(
        plans=tuple(last_plans(followed).values()),
        done=tuple(sorted(done_work(surveys=job.surveys, followed=followed))),
        finished=followed.done_before,
        readings=followed.readings,
    )
    return finished_codes(poured=poured, also=(*followed.done_before, *followed.done_codes)), work

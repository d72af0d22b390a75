"""What becomes of a step that cannot be computed: tried again a little later, or parked with the reason."""

import logging

from slab_app.work.bench import Bench
from slab_core.errors import InputRefused, Problem
from slab_store.claims import ClaimedStep
from slab_store.unit_of_work import UnitOfWork

_log = logging.getLogger(__name__)

STEP_PARKED = "step-parked"
"""Problem code of a run that failed because one step came to nothing every time."""


def record_failure(*, bench: Bench, step: ClaimedStep, cause: Exception, uow: UnitOfWork) -> None:
    """Refuse the run, put the step back, or park it, by what went wrong and how often."""
    reason = {"type": type(cause).__name__, "message": _storable(str(cause)), "worker": bench.worker}
    fields = {"run": str(step.run), "stage": step.spec.stage, "attempt": step.attempts}
    if isinstance(cause, InputRefused):
        uow.steps.refuse(step, problems=cause.problems, reason=reason)
    elif step.attempts < bench.max_attempts:
        _log.warning("step failed, to be tried again", exc_info=cause, extra=fields)
        uow.steps.try_again(step, reason=reason, after_seconds=4.0 ** (step.attempts - 1))
    else:
        _log.error("step parked", exc_info=cause, extra=fields)
        uow.steps.park(step, problem=_parked(step, f"it failed with {reason['type']}"), reason=reason)


def park_killer(*, bench: Bench, step: ClaimedStep, uow: UnitOfWork) -> None:
    """Park a step whose workers have all vanished: it is likely to have killed them."""
    message = f"{step.attempts - 1} workers ended or went silent while they computed this step"
    _log.error("step parked: %s", message, extra={"run": str(step.run), "stage": step.spec.stage})
    reason = {"type": "WorkerLost", "message": message, "worker": bench.worker}
    uow.steps.park(step, problem=_parked(step, "its worker ended or went silent"), reason=reason)


def _parked(step: ClaimedStep, what: str) -> Problem:
    detail = (
        f"The {step.spec.stage} step for {step.spec.subject} was tried as often as allowed and set aside: "
        f"each time {what}. The input is kept; post it again once the cause is found."
    )
    return Problem(code=STEP_PARKED, detail=detail, severity="refusal")


def _storable(text: str) -> str:
    """Postgres takes neither NUL nor half a surrogate pair, and a reason must never fail to be stored."""
    return text[:2000].replace("\0", "\N{REPLACEMENT CHARACTER}").encode(errors="replace").decode()

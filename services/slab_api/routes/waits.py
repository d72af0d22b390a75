"""Holding an answer until an estimate is finished."""

import time
from uuid import UUID

from starlette.concurrency import run_in_threadpool

from slab_api.call import Call
from slab_api.waiting import Ticket
from slab_app.actions.estimates import Estimate, get_estimate

_LOOK_AGAIN_SECONDS = 5.0
"""Also without being woken: a message can be lost with its connection."""


async def finished_estimate(call: Call, *, id: UUID, seconds: float) -> Estimate:
    """The estimate, as soon as it is over or after this long. No thread or connection is held meanwhile."""
    ends = time.monotonic() + seconds
    with call.state.finished.ticket(id) as ticket:
        while True:
            estimate = await run_in_threadpool(load_estimate, call, id)
            left = ends - time.monotonic()
            if estimate.run.is_over or left <= 0 or call.state.finished.is_stopping:
                return estimate
            await _sleep(ticket, left)


async def _sleep(ticket: Ticket, left: float) -> None:
    await ticket.woken(seconds=min(left, _LOOK_AGAIN_SECONDS))


def load_estimate(call: Call, id: UUID) -> Estimate:
    """The estimate as it is now. Raises NotFound."""
    with call.unit() as (uow, actor):
        return get_estimate(uow, actor, id=id)

"""Holding an answer until a run is finished."""

import time
from collections.abc import Callable
from typing import Protocol, TypeVar
from uuid import UUID

from starlette.concurrency import run_in_threadpool

from slab_api.call import Call
from slab_api.waiting import Ticket
from slab_app.actions.estimates import Estimate, get_estimate
from slab_app.actions.firm_schedules import FirmSchedule, get_schedule
from slab_store.runs import Run

_LOOK_AGAIN_SECONDS = 5.0
"""Also without being woken: a message can be lost with its connection."""


class _Watched(Protocol):
    @property
    def run(self) -> Run: ...


Watched = TypeVar("Watched", bound=_Watched)


async def finished_estimate(call: Call, *, id: UUID, seconds: float) -> Estimate:
    """The estimate, as soon as it is over or after this long."""
    return await _finished(call, id=id, seconds=seconds, load=load_estimate)


async def finished_schedule(call: Call, *, id: UUID, seconds: float) -> FirmSchedule:
    """The schedule of the firm, as soon as it is over or after this long."""
    return await _finished(call, id=id, seconds=seconds, load=_load_schedule)


async def _finished(
    call: Call, *, id: UUID, seconds: float, load: Callable[[Call, UUID], Watched]
) -> Watched:
    """The run, waited for. No thread or connection is held meanwhile."""
    ends = time.monotonic() + seconds
    with call.state.finished.ticket(id) as ticket:
        while True:
            found = await run_in_threadpool(load, call, id)
            left = ends - time.monotonic()
            if found.run.is_over or left <= 0 or call.state.finished.is_stopping:
                return found
            await _sleep(ticket, left)


async def _sleep(ticket: Ticket, left: float) -> None:
    await ticket.woken(seconds=min(left, _LOOK_AGAIN_SECONDS))


def load_estimate(call: Call, id: UUID) -> Estimate:
    """The estimate as it is now. Raises NotFound."""
    with call.unit() as (uow, actor):
        return get_estimate(uow, actor, id=id)


def _load_schedule(call: Call, id: UUID) -> FirmSchedule:
    with call.unit() as (uow, actor):
        return get_schedule(uow, actor, id=id)

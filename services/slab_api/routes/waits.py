"""Watching a run: the answer to a client that posts one or looks at one, held while it is willing to wait."""

import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Generic, Protocol, TypeVar
from uuid import UUID

from starlette.concurrency import run_in_threadpool
from starlette.responses import Response

from slab_api.answers import json_answer, to_json
from slab_api.call import Call, Make, created, tagged
from slab_api.prefer import wanted_wait
from slab_api.views import estimate_view
from slab_api.waiting import Ticket
from slab_app.actions.estimates import get_estimate
from slab_app.actor import Actor
from slab_store.runs import Run
from slab_store.unit_of_work import UnitOfWork

_LOOK_AGAIN_SECONDS = 5.0
"""Also without being woken: a message can be lost with its connection."""


class _Watched(Protocol):
    @property
    def run(self) -> Run: ...


Watched = TypeVar("Watched", bound=_Watched)
WatchedBy = TypeVar("WatchedBy", bound=_Watched, covariant=True)


class Load(Protocol[WatchedBy]):
    """A run of one kind as it is now. Raises NotFound."""

    def __call__(self, uow: UnitOfWork, actor: Actor, /, *, id: UUID) -> WatchedBy: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Watch(Generic[Watched]):
    """Runs of one kind: the path of their addresses, how one is found and how it is shown."""

    path: str
    load: Load[Watched]
    view: Callable[[Watched], dict[str, Any]]

    async def posted(self, call: Call, make: Make) -> Response:
        """What `make` answers, kept by its Idempotency-Key; or the finished run if the client waits and it is
        over in time."""
        kept = await run_in_threadpool(call.once, make)
        seconds = _wait_of(call)
        if seconds == 0:
            return created(kept)
        found = await self._finished(call, id=kept.resource, seconds=seconds)
        if not found.run.is_over:
            response = created(kept)
            response.headers.update(_applied(seconds))
            return response
        headers = {**_applied(seconds), "content-location": f"{self.path}/{kept.resource}"}
        return json_answer(self.view(found), headers=headers)

    async def looked_at(self, call: Call, *, id: UUID) -> Response:
        """The run as it is, or as it is when it is over if the client waits."""
        seconds = _wait_of(call)
        found = await self._finished(call, id=id, seconds=seconds)
        headers = _applied(seconds)
        if not found.run.is_over:
            headers["retry-after"] = "1"
        return tagged(call, to_json(self.view(found)), headers=headers)

    async def _finished(self, call: Call, *, id: UUID, seconds: float) -> Watched:
        """The run, as soon as it is over or after this long. No thread or connection is held meanwhile."""
        ends = time.monotonic() + seconds
        with call.state.finished.ticket(id) as ticket:
            while True:
                found = await run_in_threadpool(self._now, call, id)
                left = ends - time.monotonic()
                if found.run.is_over or left <= 0 or call.state.finished.is_stopping:
                    return found
                await _sleep(ticket, left)

    def _now(self, call: Call, id: UUID) -> Watched:
        with call.unit() as (uow, actor):
            return self.load(uow, actor, id=id)


ESTIMATES = Watch(path="/v1/estimates", load=get_estimate, view=estimate_view)


async def _sleep(ticket: Ticket, left: float) -> None:
    await ticket.woken(seconds=min(left, _LOOK_AGAIN_SECONDS))


def _wait_of(call: Call) -> int:
    return wanted_wait(call.request.headers, most=call.state.settings.max_wait_seconds)


def _applied(seconds: int) -> dict[str, str]:
    return {"preference-applied": f"wait={seconds}"} if seconds else {}

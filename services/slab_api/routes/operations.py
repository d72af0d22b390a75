"""Whether the process lives and is ready, and what the service can do."""

import asyncio
from functools import lru_cache

from anyio import CapacityLimiter, to_thread
from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from slab_api.answers import json_answer
from slab_api.docs_page import docs_page, problem_page
from slab_api.problems import KINDS, ApiProblem
from slab_api.state import state_of
from slab_store.database import Database
from slab_store.readiness import unready_reasons

router = APIRouter(include_in_schema=False)

_PATIENCE_SECONDS = 3.0
_PAGE_POLICY = "default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; connect-src 'self'"


@router.get("/livez")
async def livez() -> Response:
    """The process answers."""
    return JSONResponse({"status": "alive"})


@router.get("/readyz")
async def readyz(request: Request) -> Response:
    """The database answers, is as new as the code, and its role is held by row-level security."""
    state = state_of(request)
    reasons = await _reasons(state.database)
    if not state.finished.is_listening:
        reasons = (*reasons, "the connection that tells of finished runs is being made")
    if reasons:
        return json_answer({"status": "not ready", "reasons": reasons}, status=503)
    return json_answer({"status": "ready"})


async def _reasons(database: Database) -> tuple[str, ...]:
    """Asked in the probe's own thread: behind a crowd of requests it would say nothing of the database."""
    try:
        async with asyncio.timeout(_PATIENCE_SECONDS):
            return await to_thread.run_sync(
                unready_reasons, database, limiter=_probes(), abandon_on_cancel=True
            )
    except TimeoutError:
        return (f"the database has not answered within {_PATIENCE_SECONDS:g} s",)


@lru_cache(maxsize=1)
def _probes() -> CapacityLimiter:
    return CapacityLimiter(2)


@router.get("/docs", response_class=HTMLResponse)
async def docs() -> Response:
    """The contract as a page; it loads nothing from elsewhere."""
    return HTMLResponse(docs_page(), headers={"content-security-policy": _PAGE_POLICY})


@router.get("/problems/{code}", response_class=HTMLResponse)
async def problem(code: str) -> Response:
    """What a problem type means."""
    kind = KINDS.get(code)
    if kind is None:
        raise ApiProblem("not-found", f"there is no problem {code!r}")
    return HTMLResponse(problem_page(kind), headers={"content-security-policy": _PAGE_POLICY})

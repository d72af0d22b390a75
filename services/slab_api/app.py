"""The API as an ASGI application."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from anyio import to_thread
from fastapi import FastAPI
from starlette.responses import Response
from starlette.routing import BaseRoute

from slab_api.answers import raw_json, to_json
from slab_api.handlers import add_handlers
from slab_api.middleware import Surround
from slab_api.openapi import openapi_document
from slab_api.routes import (
    closeouts,
    crew_calendars,
    estimates,
    firm,
    firm_schedules,
    jobs,
    next_board,
    offers,
    operations,
    quotes,
    results,
    scans,
    stock,
    surveys,
    tables,
)
from slab_api.state import ApiState
from slab_api.waiting import FinishedRuns
from slab_base.clock import Clock, SystemClock
from slab_base.settings import Settings
from slab_files.storage import FolderStore
from slab_store.database import Database

TITLE = "Slabwright"
# An upload that has grown for a day is one whose process was killed.
_STALE_UPLOAD_SECONDS = 86_400.0
ROUTERS = (
    estimates.router,
    results.router,
    tables.router,
    next_board.router,
    jobs.router,
    surveys.router,
    scans.router,
    firm.router,
    firm_schedules.router,
    crew_calendars.router,
    crew_calendars.feeds,
    quotes.router,
    offers.router,
    closeouts.router,
    stock.router,
    operations.router,
)


def create_app(settings: Settings, *, clock: Clock | None = None) -> FastAPI:
    """The application with its database pools, which are opened with the first request."""
    database = Database(
        application_url=settings.need("database_url"), pool_size=settings.pool_size, name="slabwright api"
    )
    state = ApiState(
        settings=settings,
        database=database,
        files=FolderStore(folder=settings.storage_dir),
        clock=clock or SystemClock(),
        finished=FinishedRuns(url=settings.listen_url()),
    )
    app = bare_app(base_url=settings.base_url(), state=state)
    app.state.slab = state
    return app


def bare_app(*, base_url: str, state: ApiState | None = None) -> FastAPI:
    """Routes and error handling without a database: enough to write the contract."""
    app = FastAPI(
        title=TITLE,
        openapi_url=None,
        docs_url=None,
        redoc_url=None,
        redirect_slashes=False,
        lifespan=_lifespan(state) if state else None,
    )
    for router in ROUTERS:
        app.include_router(router)
    _add_contract(app)
    add_handlers(app, base_url=base_url, routes=all_routes(app))
    app.add_middleware(Surround, base_url=base_url)
    return app


def all_routes(app: FastAPI) -> list[BaseRoute]:
    """Every route; the app itself holds routers as single entries."""
    return [*app.routes, *(route for router in ROUTERS for route in router.routes)]


def _lifespan(state: ApiState):  # type: ignore[no-untyped-def]  # the framework's own type is not exported
    @asynccontextmanager
    async def run(_: FastAPI) -> AsyncIterator[None]:
        # More threads than connections would only wait for one another, and for the interpreter's lock.
        to_thread.current_default_thread_limiter().total_tokens = state.settings.pool_size
        state.files.forget_unfinished(older_than_seconds=_STALE_UPLOAD_SECONDS)
        state.finished.start()
        try:
            yield
        finally:
            await state.finished.stop()
            state.database.close()

    return run


def _add_contract(app: FastAPI) -> None:
    """Serve the OpenAPI document, made once."""
    made: list[bytes] = []

    @app.get("/openapi.json", include_in_schema=False)
    def openapi_json() -> Response:
        if not made:
            made.append(to_json(openapi_document(app)))
        return raw_json(made[0])

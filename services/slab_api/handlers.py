"""From exceptions to problems: the one place that knows which error gets which answer."""

from collections.abc import Sequence

from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Match, Route

from slab_api.answers import problem_answer
from slab_api.bodies.pointers import pointer
from slab_api.problems import ApiProblem, invalid
from slab_app.errors import ActionRefused, Fault
from slab_core.errors import InputRefused
from slab_files.storage import StoreFull
from slab_store.errors import AlreadyExists, DatabaseFull, DatabaseUnavailable

_BY_STATUS = {404: "not-found", 405: "method-not-allowed", 413: "too-large", 415: "unsupported-media-type"}
_HEADERS = {
    "unauthenticated": {"www-authenticate": 'Bearer realm="slabwright"'},
    "idempotency-key-in-use": {"retry-after": "1"},
    "database-unavailable": {"retry-after": "2"},
    "database-full": {"retry-after": "60"},
    "storage-full": {"retry-after": "60"},
    "result-not-ready": {"retry-after": "1"},
}


def as_problem(error: Exception) -> ApiProblem:
    """The problem that an error is answered with."""
    if isinstance(error, ApiProblem):
        return error
    if isinstance(error, ActionRefused):
        return _problem(error.code, error.detail, error.faults)
    if isinstance(error, InputRefused):
        return invalid(tuple(Fault(detail=p.detail, pointer=p.pointer) for p in error.problems))
    if isinstance(error, AlreadyExists):
        return _problem("already-exists", f"a record with the id {error.record} exists already")
    if isinstance(error, StoreFull):
        return _problem("storage-full", str(error))
    if isinstance(error, DatabaseUnavailable):
        return _problem(DatabaseFull.code if isinstance(error, DatabaseFull) else error.code, str(error))
    if isinstance(error, RequestValidationError):
        return _parameters(error)
    if isinstance(error, HTTPException):
        return _http(error)
    return _problem("internal-error", "the fault is ours; trace_id finds it in our logs")


def add_handlers(app: FastAPI, *, base_url: str, routes: Sequence[BaseRoute]) -> None:
    """Answer every foreseen error of the app with its problem; `routes` are all that it has."""

    async def handle(request: Request, error: Exception) -> Response:
        problem = as_problem(error)
        if problem.kind.code == "method-not-allowed":
            problem.headers["allow"] = ", ".join(allowed_methods(routes, request))
        return problem_answer(problem, base_url=base_url)

    for kind in (
        ApiProblem,
        ActionRefused,
        InputRefused,
        AlreadyExists,
        DatabaseUnavailable,
        StoreFull,
        RequestValidationError,
        HTTPException,
    ):
        app.add_exception_handler(kind, handle)


def allowed_methods(routes: Sequence[BaseRoute], request: Request) -> list[str]:
    """Every method that some route takes on this path; the framework names those of one route only."""
    methods: set[str] = set()
    for route in routes:
        if isinstance(route, Route) and route.matches(request.scope)[0] is not Match.NONE:
            methods |= route.methods or set()
    return sorted(methods)


def _problem(code: str, detail: str, faults: tuple[Fault, ...] = ()) -> ApiProblem:
    return ApiProblem(code, detail, faults=faults, headers=_HEADERS.get(code))


def _parameters(error: RequestValidationError) -> ApiProblem:
    """Parameters are not part of a document: the pointer is the place (path, query, header) and the name."""
    faults = tuple(
        Fault(detail=str(found["msg"]).removeprefix("Value error, "), pointer=pointer(found["loc"]))
        for found in error.errors()
    )
    first = faults[0] if faults else Fault(detail="a parameter is wrong")
    return ApiProblem("invalid-parameter", f"{first.pointer}: {first.detail}", faults=faults)


def _http(error: HTTPException) -> ApiProblem:
    code = _BY_STATUS.get(error.status_code, "internal-error")
    detail = {
        "not-found": "no route has this path",
        "method-not-allowed": "this path does not take this method; Allow names those that it takes",
    }.get(code, "the request cannot be answered")
    return ApiProblem(
        code, detail, headers={name.lower(): value for name, value in (error.headers or {}).items()}
    )

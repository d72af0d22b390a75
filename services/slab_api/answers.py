"""Answers: JSON, and problems as RFC 9457 `application/problem+json`."""

from collections.abc import Mapping
from typing import Any

import msgspec
from starlette.responses import Response

from slab_api.problems import ApiProblem, Kind
from slab_app.errors import Fault
from slab_base.logs import current_trace_id
from slab_base.redact import redact

PROBLEM_JSON = "application/problem+json"
MOST_FAULTS = 100
_LONGEST_DETAIL = 500

# What every answer carries: a browser must not guess at types, frame a page or cache what belongs to a firm.
SAFE_HEADERS = {
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "no-referrer",
    "cache-control": "no-store",
}


def to_json(content: object) -> bytes:
    """JSON text; Decimals as strings, moments in RFC 3339 with Z."""
    return msgspec.json.encode(content)


def json_answer(content: object, *, status: int = 200, headers: Mapping[str, str] | None = None) -> Response:
    """An answer with a JSON body."""
    return raw_json(to_json(content), status=status, headers=headers)


def raw_json(body: bytes, *, status: int = 200, headers: Mapping[str, str] | None = None) -> Response:
    """An answer whose body is JSON text already."""
    return Response(body, status_code=status, headers=dict(headers or {}), media_type="application/json")


def problem_answer(problem: ApiProblem, *, base_url: str) -> Response:
    """The answer to a request that went wrong."""
    body = problem_body(kind=problem.kind, detail=problem.detail, faults=problem.faults, base_url=base_url)
    return Response(
        to_json(body),
        status_code=problem.kind.status,
        headers=problem.headers,
        media_type=PROBLEM_JSON,
    )


def problem_body(*, kind: Kind, detail: str, faults: tuple[Fault, ...], base_url: str) -> dict[str, Any]:
    """The members of a problem. A flood of faults is cut, and said to be."""
    body: dict[str, Any] = {
        "type": f"{base_url}/problems/{kind.code}",
        "status": kind.status,
        "title": kind.title,
        "detail": _clean(detail),
    }
    if faults:
        body["errors"] = [
            {"detail": _clean(fault.detail), "pointer": fault.pointer} for fault in faults[:MOST_FAULTS]
        ]
    if len(faults) > MOST_FAULTS:
        body["detail"] += f"; the first {MOST_FAULTS} are named"
    if trace_id := current_trace_id():
        body["trace_id"] = trace_id
    return body


def _clean(text: str) -> str:
    """Without secrets, and not longer than a person reads."""
    cleaned = redact(text)
    return cleaned if len(cleaned) <= _LONGEST_DETAIL else f"{cleaned[:_LONGEST_DETAIL]}…"

"""What surrounds every request: a trace id, safe headers, and an answer even when our own code fails."""

import logging
import re
import secrets
from time import perf_counter

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from slab_api.answers import SAFE_HEADERS, problem_answer
from slab_api.problems import ApiProblem
from slab_base.logs import trace

_log = logging.getLogger("slab_api.requests")
_TRACEPARENT = re.compile(r"[0-9a-f]{2}-([0-9a-f]{32})-([0-9a-f]{16})-[0-9a-f]{2}(?:-.*)?")
_QUIET = ("/livez", "/readyz")


class Surround:
    """Pure ASGI, since it must not stand between a waiting client and its answer."""

    def __init__(self, app: ASGIApp, *, base_url: str) -> None:
        self._app = app
        self._base_url = base_url

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one connection; lifespan messages pass through."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        trace_id = trace_id_of(Headers(scope=scope))
        with trace(trace_id):
            await self._handle(scope, receive, _Sender(send, trace_id=trace_id))

    async def _handle(self, scope: Scope, receive: Receive, sender: "_Sender") -> None:
        started = perf_counter()
        try:
            await self._app(scope, receive, sender)
        except Exception:  # every fault of ours gets an answer; what it was is for the log alone
            _log.exception("request failed", extra={"path": scope["path"]})
            if sender.status == 0:
                problem = ApiProblem("internal-error", "the fault is ours; trace_id finds it in our logs")
                await problem_answer(problem, base_url=self._base_url)(scope, receive, sender)
        if scope["path"] not in _QUIET:
            fields = {"method": scope["method"], "path": scope["path"], "status": sender.status}
            _log.info("request", extra={**fields, "ms": round((perf_counter() - started) * 1e3, 1)})


class _Sender:
    """Adds the headers that every answer carries, and remembers its status."""

    def __init__(self, send: Send, *, trace_id: str) -> None:
        self._send = send
        self._trace_id = trace_id
        self.status = 0

    async def __call__(self, message: Message) -> None:
        if message["type"] == "http.response.start":
            self.status = message["status"]
            headers = MutableHeaders(scope=message)
            headers["trace-id"] = self._trace_id
            for name, value in SAFE_HEADERS.items():
                headers.setdefault(name, value)
        await self._send(message)


def trace_id_of(headers: Headers) -> str:
    """The trace id that the client carries on (W3C Trace Context), else a new one."""
    found = _TRACEPARENT.fullmatch(headers.get("traceparent", ""))
    if found and found[1] != "0" * 32 and found[2] != "0" * 16:
        return found[1]
    return secrets.token_hex(16)

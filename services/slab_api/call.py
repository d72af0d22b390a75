"""One authorised request: what a route needs to act, in one place.

A route declares its needs with a parameter: `call: Annotated[Call, Depends(Needs(scope="jobs:read"))]`. That
reads headers and body without touching the database; `call.unit()` then opens the one transaction in which
the key is checked and the route's use case acts.
"""

import hashlib
import logging
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from typing import TypeVar

from pydantic import BaseModel
from starlette.requests import Request
from starlette.responses import Response

from slab_api.answers import raw_json
from slab_api.bodies.documents import read_document
from slab_api.bodies.read import JSON, check_media_type, media_type, read_body
from slab_api.conditional import content_tag, is_unchanged
from slab_api.problems import ApiProblem
from slab_api.state import ApiState, state_of
from slab_app.actions.keys import authenticate, note_use
from slab_app.actions.once import Answer, once
from slab_app.actor import Actor
from slab_app.errors import KeyRefused
from slab_app.keys import KeyText, parse_key
from slab_base.logs import current_trace_id
from slab_store.errors import AlreadyExists, DatabaseUnavailable
from slab_store.unit_of_work import UnitOfWork

_log = logging.getLogger(__name__)

Document = TypeVar("Document", bound=BaseModel)
Make = Callable[[UnitOfWork, Actor], Answer]


@dataclass(frozen=True, slots=True, kw_only=True)
class Call:
    """A request with a well-formed key and a read body; `scope` is what the key must allow."""

    request: Request
    state: ApiState
    scope: str
    key: KeyText
    body: bytes = b""

    @contextmanager
    def unit(self) -> Iterator[tuple[UnitOfWork, Actor]]:
        """The transaction of this request. Raises KeyRefused, or ApiProblem for a key without the scope."""
        now = self.state.clock.now()
        with self.state.database.for_organisation(self.key.organisation) as uow:
            actor, is_stale = authenticate(uow, key=self.key, now=now, trace_id=current_trace_id() or "")
            if self.scope not in actor.scopes:
                raise ApiProblem("forbidden", f"this needs the scope {self.scope}, which the key lacks")
            yield uow, actor
        if is_stale:
            self._note_use(now)

    def _note_use(self, now: datetime) -> None:
        """Not worth failing for: what the request did is committed, and the next use is noted again."""
        try:
            with self.state.database.for_organisation(self.key.organisation) as uow:
                note_use(uow, key_id=self.key.key_id, now=now)
        except DatabaseUnavailable as problem:
            _log.warning("the use of a key was not noted: %s", problem)

    def document(self, shape: type[Document]) -> Document:
        """The body as a document. Raises ApiProblem that names every field that is wrong."""
        return read_document(shape, self.body, deepest=self.state.settings.max_json_depth)

    def once(self, make: Make) -> Answer:
        """Act once for the request's Idempotency-Key, or find the answer that was given before."""
        key = _idempotency_key(self.request)
        for is_last in (False, True):
            try:
                with self.unit() as (uow, actor):
                    return once(
                        uow, actor, key=key, fingerprint=self._fingerprint(), make=lambda: make(uow, actor)
                    )
            except AlreadyExists as problem:
                # Another request with the key was faster by a hair: its answer is there now.
                if problem.table != "idempotency_keys" or is_last:
                    raise
        raise AssertionError("the loop returns or raises")

    def _fingerprint(self) -> bytes:
        """SHA-256 of all that makes a request what it is."""
        url = self.request.url
        head = f"{self.request.method} {url.path}?{url.query} {media_type(self.request)}\n"
        return hashlib.sha256(head.encode() + self.body).digest()


def created(answer: Answer) -> Response:
    """A kept answer as a response."""
    headers = answer.headers | ({"idempotency-replayed": "true"} if answer.replayed else {})
    return raw_json(answer.body, status=answer.status, headers=headers)


def tagged(call: "Call", body: bytes, *, headers: dict[str, str] | None = None) -> Response:
    """A body with its entity tag, or 304 for a client that has it already."""
    tag = content_tag(body)
    if is_unchanged(call.request.headers, tag=tag):
        return Response(status_code=304, headers={"etag": tag})
    return raw_json(body, headers={**(headers or {}), "etag": tag})


@dataclass(frozen=True, slots=True, kw_only=True)
class Needs:
    """What a route needs of a request: a scope, and a body of one of these types if it takes one.

    A body that is `streamed` is left for the route to read.
    """

    scope: str
    body: tuple[str, ...] = ()
    streamed: bool = False

    async def __call__(self, request: Request) -> Call:
        """The call. Raises ApiProblem or KeyRefused before a byte of the body is read."""
        state = state_of(request)
        key = _key(request)
        _refuse_wrong_query(request)
        if not self.body:
            return Call(request=request, state=state, scope=self.scope, key=key)
        check_media_type(request, allowed=self.body)
        if self.streamed:
            return Call(request=request, state=state, scope=self.scope, key=key)
        settings = state.settings
        # Columns come in chunks, which have a limit of their own.
        most = settings.max_body_bytes if self.body == (JSON,) else settings.max_chunk_bytes
        body = await read_body(request, most=most)
        return Call(request=request, state=state, scope=self.scope, key=key, body=body)


def _key(request: Request) -> KeyText:
    scheme, _, text = request.headers.get("authorization", "").partition(" ")
    key = parse_key(text.strip()) if scheme.lower() == "bearer" else None
    if key is None:
        raise KeyRefused(
            "send an API key in Authorization, by the scheme Bearer; this request has none, or a mistyped one"
        )
    return key


def _idempotency_key(request: Request) -> str:
    key = request.headers.get("idempotency-key", "")
    if not 0 < len(key) <= 255 or not all("!" <= letter <= "~" for letter in key):
        raise ApiProblem(
            "idempotency-key-missing",
            "send an Idempotency-Key of 1 to 255 visible ASCII characters, new for each thing to be made",
        )
    return key


def _refuse_wrong_query(request: Request) -> None:
    """A filter that is mistyped, or given twice, and silently ignored would give a wrong answer."""
    dependant = getattr(request.scope.get("route"), "dependant", None)
    known = {field.alias for field in dependant.query_params} if dependant else set()
    unknown = sorted(set(request.query_params) - known)
    if unknown:
        have = f"this route takes {', '.join(sorted(known))}" if known else "this route takes none"
        raise ApiProblem("invalid-parameter", f"unknown query parameter {', '.join(unknown)}; {have}")
    repeated = [name for name, count in Counter(_names(request)).items() if count > 1]
    if repeated:
        raise ApiProblem(
            "invalid-parameter", f"query parameter {', '.join(repeated)} more than once; give each once"
        )
    texts = {**request.query_params, **request.path_params}
    nul = sorted(name for name, text in texts.items() if "\0" in str(text))
    if nul:
        raise ApiProblem("invalid-parameter", f"{', '.join(nul)} holds a NUL character; leave it out")


def _names(request: Request) -> list[str]:
    return [name for name, _ in request.query_params.multi_items()]

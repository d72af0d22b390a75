"""Doing a thing once, however often it is asked for with the same idempotency key.

The key, the answer and what was made are written in one transaction, so no crash can leave one without the
others, and a repeated request gets the first answer byte for byte.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from uuid import UUID

from slab_app.actor import Actor
from slab_app.errors import KeyInUse, KeyReused
from slab_store.idempotency import KeptAnswer
from slab_store.unit_of_work import UnitOfWork


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What a request is answered with; `resource` is what it made."""

    status: int
    body: bytes
    resource: UUID
    headers: dict[str, str] = field(default_factory=dict)
    replayed: bool = False


def once(
    uow: UnitOfWork, actor: Actor, *, key: str, fingerprint: bytes, make: Callable[[], Answer]
) -> Answer:
    """The kept answer for the key, or that of `make`, which acts in the same transaction; commits.

    Raises KeyInUse while another transaction acts for the key, KeyReused when the key belongs to another
    request (`fingerprint` is the SHA-256 of all that makes a request what it is).
    """
    free, kept = uow.idempotency.claim(key=key)
    if kept is not None:
        return _replay(kept, fingerprint=fingerprint)
    if not free:
        raise KeyInUse("a request with this Idempotency-Key is still at work; repeat it in a moment")
    answer = make()
    uow.idempotency.keep(key=key, answer=_to_keep(answer, fingerprint=fingerprint), actor=actor.name)
    uow.commit()
    return answer


def _replay(kept: KeptAnswer, *, fingerprint: bytes) -> Answer:
    if kept.fingerprint != fingerprint:
        raise KeyReused("this Idempotency-Key was used for another request; use a new one for each request")
    return Answer(
        status=kept.status, body=kept.body, resource=kept.resource, headers=kept.headers, replayed=True
    )


def _to_keep(answer: Answer, *, fingerprint: bytes) -> KeptAnswer:
    return KeptAnswer(
        fingerprint=fingerprint,
        status=answer.status,
        headers=answer.headers,
        body=answer.body,
        resource=answer.resource,
    )

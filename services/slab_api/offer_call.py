"""A customer's request: the link is all the leave that it has, and all that it needs."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Annotated, TypeVar

from fastapi import Path
from pydantic import BaseModel
from starlette.requests import Request

from slab_api.bodies.documents import read_document
from slab_api.bodies.read import JSON, check_media_type, read_body
from slab_api.problems import ApiProblem
from slab_api.state import ApiState, state_of
from slab_app.keys import OFFER, KeyText, parse_key
from slab_store.unit_of_work import UnitOfWork

MOST_BYTES = 16_384

Document = TypeVar("Document", bound=BaseModel)
Link = Annotated[
    str,
    Path(
        description="The customer's link: `offer_<organisation and offer>_<secret>_<checksum>`.",
        max_length=200,
    ),
]


@dataclass(frozen=True, slots=True, kw_only=True)
class OfferCall:
    """A request with a well-formed link and a read body."""

    request: Request
    state: ApiState
    key: KeyText
    body: bytes = b""

    @contextmanager
    def unit(self) -> Iterator[UnitOfWork]:
        """The transaction of this request, in the organisation that the link names."""
        with self.state.database.for_organisation(self.key.organisation) as uow:
            yield uow

    def document(self, shape: type[Document]) -> Document:
        """The body as a document. Raises ApiProblem that names every field that is wrong."""
        return read_document(shape, self.body, deepest=self.state.settings.max_json_depth)


async def reads_offer(request: Request, link: Link) -> OfferCall:
    """The call of a route that only shows."""
    return OfferCall(request=request, state=state_of(request), key=_key(link))


async def answers_offer(request: Request, link: Link) -> OfferCall:
    """The call of a route that takes an answer."""
    key = _key(link)
    check_media_type(request, allowed=(JSON,))
    body = await read_body(request, most=MOST_BYTES)
    return OfferCall(request=request, state=state_of(request), key=key, body=body)


def _key(link: str) -> KeyText:
    key = parse_key(link, prefix=OFFER)
    if key is None:
        raise ApiProblem(
            "not-found", "this is not a whole link to an offer: copy it again, to its last letter"
        )
    return key

"""What an office and its customers say about quotes."""

from datetime import date
from typing import Annotated

from pydantic import ConfigDict, Field

from slab_api.schemas.base import ClientId, Document, Name, NewId

Note = Annotated[str, Field(min_length=1, max_length=2000)]


class QuoteSend(Document):
    """A quote goes out to its customer."""

    valid_until: Annotated[
        date | None,
        Field(description="The last day of the offer, at the site; else the day the quote itself expires."),
    ] = None
    model_config = ConfigDict(json_schema_extra={"examples": [{"valid_until": "2026-04-15"}]})


class ChangeOrderCreate(Document):
    """The quote that an accepted one is to become: a draft of a newer estimate of the same job."""

    id: NewId = None
    quote: ClientId
    model_config = ConfigDict(
        json_schema_extra={"examples": [{"quote": "019e3b1c-0000-7000-8000-000000000001"}]}
    )


class OfferAnswer(Document):
    """A customer's answer: who gives it, and what they want to say with it."""

    name: Annotated[Name, Field(description="The name of the person who answers.")]
    note: Note | None = None
    model_config = ConfigDict(json_schema_extra={"examples": [{"name": "R. Amsel"}]})

"""What an office and its customers say about quotes."""

from datetime import date
from typing import Annotated

from pydantic import ConfigDict, Field

from slab_api.schemas.base import ClientId, Document, Label, Name, NewId
from slab_api.schemas.stock import LeftOverDocument

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


class ActualDocument(Document):
    """What one line of the quote really took, in the line's own unit."""

    key: Annotated[str, Field(min_length=1, max_length=300, description="Of the quote's work lines.")]
    quantity: float


class CloseoutCreate(Document):
    """What a job took, told when it is done. A later one for the same quote replaces it."""

    id: NewId = None
    crew: Label
    finished_on: date
    actuals: Annotated[tuple[ActualDocument, ...], Field(min_length=1, max_length=1000)]
    left_over: Annotated[
        tuple[LeftOverDocument, ...] | None,
        Field(
            max_length=500,
            description="All that is really left, bought or from the store: it comes into the firm's store. "
            "Told once; a list without entries says that nothing is left, and absent says nothing.",
        ),
    ] = None
    model_config = ConfigDict(
        json_schema_extra={
            "examples": [
                {
                    "crew": "north",
                    "finished_on": "2026-03-20",
                    "actuals": [{"key": "clean/garden/1/-", "quantity": 2.5}],
                }
            ]
        }
    )


class OfferAnswer(Document):
    """A customer's answer: who gives it, and what they want to say with it."""

    name: Annotated[Name, Field(description="The name of the person who answers.")]
    note: Note | None = None
    number: Annotated[
        int | None,
        Field(
            ge=1, le=2**53 - 1, description="Of the quotes shown beside each other; absent: the link's own."
        ),
    ] = None
    model_config = ConfigDict(json_schema_extra={"examples": [{"name": "R. Amsel"}]})

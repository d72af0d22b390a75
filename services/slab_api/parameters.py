"""Parameters that several routes share."""

from typing import Annotated
from uuid import UUID

from fastapi import Header, Path, Query
from pydantic import PlainValidator, WithJsonSchema

from slab_base.ids import parse_id

_AN_ID = (PlainValidator(parse_id), WithJsonSchema({"type": "string", "format": "uuid"}))

RecordId = Annotated[UUID, *_AN_ID, Path(description="Id of the record, a UUID in its canonical form.")]
ScanId = Annotated[UUID, *_AN_ID, Path(description="Id of the scan, a UUID made by the client.")]
JobFilter = Annotated[UUID | None, *_AN_ID, Query(description="Only what belongs to the job with this id.")]
PageSize = Annotated[
    str | None,
    Query(description="How many items to give: 50 unless said, brought down to 200.", pattern=r"^[0-9]+$"),
]
Cursor = Annotated[
    str | None, Query(description="The `next` of the page before; without it the list begins.")
]
IdempotencyKey = Annotated[
    str | None,
    Header(
        alias="Idempotency-Key",
        description="Required. New for each thing to be made; the same again for a retry, which then gets "
        "the first answer.",
    ),
]
IfMatch = Annotated[
    str | None,
    Header(alias="If-Match", description="Required. The ETag that came with the record to be changed."),
]
Prefer = Annotated[
    str | None,
    Header(
        alias="Prefer",
        description="`wait=N` holds the answer until the estimate is finished, N seconds at most (RFC 7240).",
    ),
]
ContentDigest = Annotated[
    str | None,
    Header(
        alias="Content-Digest",
        description="`sha-256=:BASE64:` of the body (RFC 9530); a body that differs from it is refused.",
    ),
]

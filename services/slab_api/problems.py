"""Every error that the API answers with: its code, its HTTP status, its title and what it means.

The code is the last part of the problem's `type`, an absolute address that shows the meaning, and is stable.
"""

from dataclasses import dataclass
from typing import Final

from slab_app.errors import Fault


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One kind of problem."""

    code: str
    status: int
    title: str
    meaning: str


def _kinds(*rows: tuple[str, int, str, str]) -> dict[str, Kind]:
    return {
        code: Kind(code=code, status=status, title=title, meaning=why) for code, status, title, why in rows
    }


KINDS: Final[dict[str, Kind]] = _kinds(
    (
        "malformed-json",
        400,
        "The body is not JSON",
        "The body is not RFC 8259 JSON in UTF-8; the place is named.",
    ),
    (
        "unsafe-json",
        400,
        "The JSON holds what is not allowed",
        "NaN, Infinity, a number too large, a NUL character, a name given twice, or too deep a nesting.",
    ),
    (
        "malformed-columns",
        400,
        "The columns cannot be read",
        "The body is not an Arrow IPC stream, or not of the columns that readings have.",
    ),
    (
        "malformed-table",
        400,
        "The table cannot be read",
        "The body is not UTF-8, or a quote in it is not closed; the line is named.",
    ),
    (
        "digest-mismatch",
        400,
        "The content differs from its digest",
        "Content-Digest is not the SHA-256 of the body that arrived: send it again.",
    ),
    (
        "idempotency-key-missing",
        400,
        "An Idempotency-Key is required",
        "A POST that creates needs an Idempotency-Key of 1 to 255 visible ASCII characters.",
    ),
    (
        "invalid-parameter",
        400,
        "A parameter is wrong",
        "A part of the path, the query or a header is not what it has to be.",
    ),
    (
        "invalid-cursor",
        400,
        "The cursor does not belong here",
        "A cursor is only good for the list and the filters it came from.",
    ),
    (
        "unauthenticated",
        401,
        "A valid API key is required",
        "The Authorization header has no API key, or one that is mistyped, unknown, expired or revoked.",
    ),
    ("forbidden", 403, "The key may not do this", "The key's role or scopes do not cover the request."),
    (
        "not-found",
        404,
        "There is nothing here",
        "No such route, or no such record in the key's organisation.",
    ),
    ("method-not-allowed", 405, "The method is not allowed here", "The Allow header says which are."),
    (
        "not-acceptable",
        406,
        "This cannot be given in the form asked for",
        "The Accept header allows none of the forms that there are.",
    ),
    (
        "already-exists",
        409,
        "A record with this id exists",
        "The client made an id that is taken; nothing was changed.",
    ),
    (
        "idempotency-key-in-use",
        409,
        "The first request is still at work",
        "A request with the same Idempotency-Key has not been answered yet: repeat it in a moment.",
    ),
    (
        "chunk-differs",
        409,
        "The chunk has another content",
        "A chunk with this number and another SHA-256 is there already; it stands.",
    ),
    (
        "scan-differs",
        409,
        "The scan has another file",
        "A scan with this id and another SHA-256 is there already; it stands.",
    ),
    ("survey-closed", 409, "The survey is closed", "A closed survey takes no more chunks and scans."),
    (
        "chunks-missing",
        409,
        "The chunks are not complete",
        "The numbers that are missing, or beyond the count, are named; of scans, how many there are.",
    ),
    (
        "result-not-ready",
        409,
        "There is no result yet",
        "The stage has not been computed, or the estimate ended before it.",
    ),
    (
        "job-incomplete",
        409,
        "The job lacks something",
        "The record of the job has no rooms, no readings, or a survey that is still open.",
    ),
    (
        "quote-not-open",
        409,
        "The quote's state does not allow it",
        "It is answered, superseded or not yet accepted, or the job is promised already; the state is named.",
    ),
    (
        "quote-expired",
        409,
        "The offer has expired",
        "It was valid until a moment that is past; a quote can be sent again.",
    ),
    (
        "quotes-apart",
        409,
        "The quotes do not belong to one change order",
        "They are of different jobs or currencies, or another order stands between them.",
    ),
    (
        "stock-short",
        409,
        "Less is in stock than would go out",
        "The firm's store has less of it free than would go out; what is free is named.",
    ),
    (
        "left-over-told",
        409,
        "What was left is told already",
        "Other jobs may plan with it: correct the entries of the store that are named.",
    ),
    (
        "version-stale",
        412,
        "The record has changed",
        "If-Match names a version that is no longer the newest: read the record again.",
    ),
    ("too-large", 413, "The body is too large", "The limit is named; large surveys go in chunks."),
    (
        "unsupported-media-type",
        415,
        "The body's type is not supported",
        "The Content-Type or Content-Encoding is not one that the route takes.",
    ),
    (
        "invalid-document",
        422,
        "The document is not right",
        "Fields are missing, unknown or of the wrong kind, or what they describe cannot be; each is named.",
    ),
    (
        "idempotency-key-reused",
        422,
        "The Idempotency-Key was used before",
        "The key belongs to a request with another path or body: use a new key for each request.",
    ),
    (
        "if-match-required",
        428,
        "If-Match is required",
        "A change must name the version it is based on by the ETag that was read.",
    ),
    ("internal-error", 500, "Something went wrong here", "The fault is ours; trace_id finds it in our logs."),
    (
        "database-unavailable",
        503,
        "The database cannot be reached",
        "Nothing of the request is certain: repeat it with the same Idempotency-Key.",
    ),
    ("database-full", 507, "There is no room to store it", "Nothing was stored; repeat it later."),
    ("storage-full", 507, "There is no room for the file", "Nothing of it was stored; repeat it later."),
)


class ApiProblem(Exception):
    """An error to answer with. `faults` name every place that is wrong."""

    def __init__(
        self,
        code: str,
        detail: str,
        *,
        faults: tuple[Fault, ...] = (),
        headers: dict[str, str] | None = None,
    ) -> None:
        super().__init__(f"{code}: {detail}")
        self.kind = KINDS[code]
        self.detail = detail
        self.faults = faults
        self.headers = headers or {}


def invalid(faults: tuple[Fault, ...]) -> ApiProblem:
    """A document in which these places are wrong."""
    count = "one place is" if len(faults) == 1 else f"{len(faults)} places are"
    return ApiProblem("invalid-document", f"{count} wrong; nothing was stored", faults=faults)


def problems_table() -> str:
    """The table of all error codes in Markdown, as it stands in DEVELOPERS.md."""
    rows = [f"| `{kind.code}` | {kind.status} | {kind.title} | {kind.meaning} |" for kind in KINDS.values()]
    return "\n".join(["| code | status | title | meaning |", "|---|---|---|---|", *rows])

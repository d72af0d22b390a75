"""Why a use case did not do what it was asked. Codes are stable."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One thing that is wrong, with an RFC 6901 pointer into what was sent where there is one."""

    detail: str
    pointer: str = ""


class ActionRefused(Exception):
    """Base: nothing was changed. `faults` name every place that is wrong."""

    code = "refused"

    def __init__(self, detail: str, *, faults: tuple[Fault, ...] = ()) -> None:
        super().__init__(detail)
        self.detail = detail
        self.faults = faults


class NotFound(ActionRefused):
    """The organisation has no such record; another organisation's counts as none."""

    code = "not-found"


class VersionStale(ActionRefused):
    """The record was changed since the caller read it."""

    code = "version-stale"


class KeyRefused(ActionRefused):
    """The API key is unknown, wrong, expired or revoked."""

    code = "unauthenticated"


class KeyReused(ActionRefused):
    """The idempotency key was used for another request before."""

    code = "idempotency-key-reused"


class KeyInUse(ActionRefused):
    """A request with the same idempotency key is still at work."""

    code = "idempotency-key-in-use"


class ChunkDiffers(ActionRefused):
    """The survey has a chunk of this number with another content."""

    code = "chunk-differs"


class ScanDiffers(ActionRefused):
    """The scan is there with another file."""

    code = "scan-differs"


class SurveyClosed(ActionRefused):
    """The survey takes no more chunks and scans."""

    code = "survey-closed"


class ChunksMissing(ActionRefused):
    """The survey cannot be closed: chunks are missing, or there are more than were counted."""

    code = "chunks-missing"


class NotReady(ActionRefused):
    """The run has not got that far, or ended before."""

    code = "result-not-ready"


class NotReadyForEstimate(ActionRefused):
    """The job's record lacks something that an estimate needs."""

    code = "job-incomplete"


class QuoteNotOpen(ActionRefused):
    """The quote's state does not allow it: it is answered, superseded or not sent."""

    code = "quote-not-open"


class QuoteExpired(ActionRefused):
    """The offer was valid until a moment that is past."""

    code = "quote-expired"


class QuotesApart(ActionRefused):
    """The two quotes cannot be those of one change order."""

    code = "quotes-apart"


class StockShort(ActionRefused):
    """Less of it is free in the firm's store than would go out."""

    code = "stock-short"


class LeftOverTold(ActionRefused):
    """An earlier closeout of the quote told what was left, and others plan with it."""

    code = "left-over-told"

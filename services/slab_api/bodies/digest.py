"""Content-Digest (RFC 9530): what the sender says the SHA-256 of the body is."""

import base64
import hashlib
import hmac
import re

from starlette.datastructures import Headers

from slab_api.problems import ApiProblem

_MEMBER = re.compile(r"(?:^|,)\s*sha-256\s*=\s*:([A-Za-z0-9+/=]*):\s*(?=,|$)")


def checked_sha256(headers: Headers, body: bytes) -> bytes:
    """The SHA-256 (32 bytes) of the body. Raises ApiProblem when a digest was sent and is another one."""
    actual = hashlib.sha256(body).digest()
    check_digest(headers, actual=actual)
    return actual


def check_digest(headers: Headers, *, actual: bytes) -> None:
    """Raises ApiProblem when a digest was sent that is not the body's."""
    given = headers.get("content-digest")
    if given is None:
        return
    found = _MEMBER.search(given)
    if found is None:
        raise ApiProblem(
            "invalid-parameter", "Content-Digest must hold sha-256=:BASE64: (RFC 9530), or be left out"
        )
    if not hmac.compare_digest(_decoded(found[1]), actual):
        raise ApiProblem("digest-mismatch", f"the body that arrived has {content_digest(actual)}")


def content_digest(sha256: bytes) -> str:
    """The header's value for a digest."""
    return f"sha-256=:{base64.b64encode(sha256).decode()}:"


def _decoded(text: str) -> bytes:
    try:
        return base64.b64decode(text, validate=True)
    except ValueError:
        return b""

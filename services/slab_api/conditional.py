"""Strong entity tags (RFC 9110): the version of a record, or the digest of what was sent."""

import hashlib
import re

from starlette.datastructures import Headers

from slab_api.problems import ApiProblem
from slab_app.errors import VersionStale

_TAG = re.compile(r'"v(\d{1,9})"')


def version_tag(version: int) -> str:
    """The tag of a record that counts its changes."""
    return f'"v{version}"'


def content_tag(body: bytes) -> str:
    """The tag of a body."""
    return f'"{hashlib.sha256(body).hexdigest()[:32]}"'


def required_version(headers: Headers) -> int:
    """The version that a change is based on. Raises ApiProblem 428 without If-Match, VersionStale for a
    tag that no version of ours has (weak ones never match)."""
    given = headers.get("if-match")
    if given is None:
        raise ApiProblem(
            "if-match-required", "send If-Match with the ETag that came with the record you are changing"
        )
    found = _TAG.fullmatch(given.strip())
    if found is None:
        raise VersionStale(f"If-Match must be the record's ETag, such as {version_tag(3)}")
    return int(found[1])


def is_unchanged(headers: Headers, *, tag: str) -> bool:
    """Whether If-None-Match says that the client has this already."""
    given = headers.get("if-none-match", "")
    tags = {part.strip().removeprefix("W/") for part in given.split(",")}
    return tag in tags or "*" in tags

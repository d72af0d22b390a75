"""Content-Digest."""

import hashlib

import pytest
from starlette.datastructures import Headers

from slab_api.bodies.digest import checked_sha256, content_digest
from slab_api.problems import ApiProblem

_BODY = b"readings"
_RIGHT = content_digest(hashlib.sha256(_BODY).digest())


@pytest.mark.parametrize("given", [None, _RIGHT, f"sha-512=:AAAA:, {_RIGHT}"])
def test_the_digest_is_that_of_the_body(given: str | None) -> None:
    headers = Headers({} if given is None else {"content-digest": given})
    assert checked_sha256(headers, _BODY) == hashlib.sha256(_BODY).digest()


@pytest.mark.parametrize(
    ("given", "code"),
    [
        (content_digest(hashlib.sha256(b"x").digest()), "digest-mismatch"),
        ("sha-256=:!!!:", "invalid-parameter"),
        ("sha-256=:AAA:", "digest-mismatch"),
        ("md5=:AAAA:", "invalid-parameter"),
        ("", "invalid-parameter"),
    ],
)
def test_another_or_unreadable_digest_is_refused(given: str, code: str) -> None:
    with pytest.raises(ApiProblem) as caught:
        checked_sha256(Headers({"content-digest": given}), _BODY)
    assert caught.value.kind.code == code

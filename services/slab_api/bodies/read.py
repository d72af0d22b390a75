"""The bytes of a body, counted while they arrive, so that nobody can fill the memory."""

import zlib

from starlette.requests import ClientDisconnect, Request

from slab_api.problems import ApiProblem

JSON = "application/json"
ARROW = "application/vnd.apache.arrow.stream"
OCTETS = "application/octet-stream"


def media_type(request: Request) -> str:
    """The type that a body says it is, without parameters."""
    return request.headers.get("content-type", "").partition(";")[0].strip().lower()


def check_media_type(request: Request, *, allowed: tuple[str, ...]) -> str:
    """The body's type. Raises ApiProblem when the route does not take it."""
    given = media_type(request)
    if given not in allowed:
        said = given or "nothing"
        raise ApiProblem(
            "unsupported-media-type",
            f"Content-Type says {said}; this route takes {' or '.join(allowed)}",
            headers={"accept": ", ".join(allowed)},
        )
    return given


async def read_body(request: Request, *, most: int) -> bytes:
    """The whole body, unpacked if it is gzip. Raises ApiProblem as soon as it is more than `most` bytes."""
    unpack = _unpacker(request)
    check_announced(request, most=most)
    parts: list[bytes] = []
    arrived = size = 0
    try:
        async for part in request.stream():
            arrived += len(part)
            piece = unpack.more(part, most=most + 1 - size) if unpack else part
            size += len(piece)
            if size > most or arrived > most:
                raise too_large(most)
            parts.append(piece)
    except zlib.error:
        raise ApiProblem(
            "unsupported-media-type", "Content-Encoding says gzip, but the body is not, or not to its end"
        ) from None
    except ClientDisconnect:
        raise ApiProblem("malformed-json", "the body ended before it was complete") from None
    if unpack and not unpack.is_complete:
        raise ApiProblem("unsupported-media-type", "the gzip body ends before it is complete")
    return b"".join(parts)


class _Gunzip:
    """Unpacks gzip as it arrives. A body may be several members one after another (RFC 1952, section 2.2):
    to stop after the first would lose the rest without a word."""

    def __init__(self) -> None:
        self._member = _new_member()

    @property
    def is_complete(self) -> bool:
        """Whether what arrived ends with a member."""
        return self._member.eof

    def more(self, packed: bytes, *, most: int) -> bytes:
        """What `packed` adds, at most `most` bytes of it. Raises zlib.error for what is not gzip."""
        found = b""
        while packed and len(found) < most:
            if self._member.eof:
                self._member = _new_member()
            found += self._member.decompress(packed, most - len(found))
            packed = self._member.unused_data if self._member.eof else b""
        return found


def _new_member() -> "zlib._Decompress":
    return zlib.decompressobj(wbits=16 + zlib.MAX_WBITS)


def check_announced(request: Request, *, most: int) -> None:
    """Raises ApiProblem for a body that says itself that it is too large, before a byte of it is read."""
    length = request.headers.get("content-length", "")
    if length.isdigit() and int(length[:20]) > most:
        raise too_large(most)


def _unpacker(request: Request) -> _Gunzip | None:
    encoding = request.headers.get("content-encoding", "identity").strip().lower()
    if encoding in ("identity", ""):
        return None
    if encoding != "gzip":
        raise ApiProblem(
            "unsupported-media-type",
            f"Content-Encoding {encoding!r} is not supported; send the body as it is or as gzip",
            headers={"accept-encoding": "gzip"},
        )
    return _Gunzip()


def too_large(most: int) -> ApiProblem:
    """A body of more than `most` bytes."""
    return ApiProblem("too-large", f"the body may have {most} bytes; this one has more")

"""The bytes of a body, counted while they arrive, so that nobody can fill the memory."""

import zlib

from starlette.requests import ClientDisconnect, Request

from slab_api.problems import ApiProblem

JSON = "application/json"
ARROW = "application/vnd.apache.arrow.stream"


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
    inflate = _inflater(request)
    _check_announced(request, most=most)
    parts: list[bytes] = []
    arrived = size = 0
    try:
        async for part in request.stream():
            arrived += len(part)
            piece = inflate.decompress(part, most + 1 - size) if inflate else part
            size += len(piece)
            if size > most or arrived > most:
                raise _too_large(most)
            parts.append(piece)
    except zlib.error:
        raise ApiProblem(
            "unsupported-media-type", "Content-Encoding says gzip, but the body is not"
        ) from None
    except ClientDisconnect:
        raise ApiProblem("malformed-json", "the body ended before it was complete") from None
    if inflate and not inflate.eof:
        raise ApiProblem("unsupported-media-type", "the gzip body ends before it is complete")
    return b"".join(parts)


def _check_announced(request: Request, *, most: int) -> None:
    length = request.headers.get("content-length", "")
    if length.isdigit() and int(length[:20]) > most:
        raise _too_large(most)


def _inflater(request: Request) -> "zlib._Decompress | None":
    encoding = request.headers.get("content-encoding", "identity").strip().lower()
    if encoding in ("identity", ""):
        return None
    if encoding != "gzip":
        raise ApiProblem(
            "unsupported-media-type",
            f"Content-Encoding {encoding!r} is not supported; send the body as it is or as gzip",
            headers={"accept-encoding": "gzip"},
        )
    return zlib.decompressobj(wbits=16 + zlib.MAX_WBITS)


def _too_large(most: int) -> ApiProblem:
    return ApiProblem("too-large", f"the body may have {most} bytes; this one has more")

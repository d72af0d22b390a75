"""A file as a body: it goes to the disk while it arrives, and is never in memory as a whole."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass

from anyio import CancelScope
from fastapi.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect, Request

from slab_api.bodies.read import check_announced, too_large
from slab_api.problems import ApiProblem
from slab_files.scan_kinds import HEAD_BYTES, READ_HERE, ScanKind, scan_kind
from slab_files.storage import FolderStore, TooLarge, Unfinished, Written

BLOCK_BYTES = 1 << 20
"""What is written at a time. A thread is only held for that, however slowly the rest arrives."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Received:
    """A file that is whole and on the disk, but has no place yet."""

    kind: ScanKind
    written: Written
    file: Unfinished


@asynccontextmanager
async def received_scan(request: Request, *, store: FolderStore, most: int) -> AsyncIterator[Received]:
    """The file of scanned points in the body; nothing is left of it at the end unless it was kept.

    Raises ApiProblem when it is too large, cut, empty, encoded, or of no kind that is read here; StoreFull.
    """
    _check_plain(request)
    check_announced(request, most=most)
    file = await run_in_threadpool(store.begin, most_bytes=most)
    try:
        kind = await _write(request, file)
        yield Received(kind=kind, written=await run_in_threadpool(file.finish), file=file)
    except TooLarge:
        raise too_large(most) from None
    except ClientDisconnect:
        raise ApiProblem("malformed-json", "the body ended before it was complete") from None
    finally:
        # To take a large file away takes time, and it is to happen also when the request is cancelled.
        with CancelScope(shield=True):
            await run_in_threadpool(file.drop)


def _check_plain(request: Request) -> None:
    encoding = request.headers.get("content-encoding", "identity").strip().lower()
    if encoding not in ("identity", ""):
        raise ApiProblem(
            "unsupported-media-type",
            f"Content-Encoding {encoding!r} is not supported here; send the file as it is",
            headers={"accept-encoding": "identity"},
        )


async def _write(request: Request, file: Unfinished) -> ScanKind:
    """Write the body block by block; its kind is asked for as soon as the first bytes are there."""
    kind: ScanKind | None = None
    block = bytearray()
    async for piece in request.stream():
        block += piece
        if kind is None and len(block) >= HEAD_BYTES:
            kind = _known(block)
        if len(block) >= BLOCK_BYTES:
            await run_in_threadpool(file.write, bytes(block))
            block.clear()
    if kind is None:
        kind = _known(block)
    await run_in_threadpool(file.write, bytes(block))
    return kind


def _known(block: bytearray) -> ScanKind:
    if not block:
        raise ApiProblem("unsupported-media-type", f"the file is empty; send {READ_HERE}")
    kind = scan_kind(bytes(block[:HEAD_BYTES]))
    if kind is None:
        raise ApiProblem("unsupported-media-type", f"the file is of no kind that is read here: {READ_HERE}")
    return kind

"""Read and reduce a file in a process of its own, with limits, and bring its answer back."""

import os
import selectors
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO

import msgspec
import numpy as np

from slab_core.errors import InputRefused, SlabError, refuse
from slab_core.numerics.budget import Stopped
from slab_core.scans.model import CellHeights, FloorShape, Placement, Reduction, ScanOptions
from slab_files.importers.messages import (
    COLUMNS,
    Done,
    Failed,
    Limits,
    Message,
    Progress,
    Reduced,
    Refused,
    Request,
)

PASSED_ON = ("PATH", "LANG", "LC_ALL", "TMPDIR", "PYTHONPATH", "PYTHONDONTWRITEBYTECODE", "NUMBA_CACHE_DIR")
THREADS = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS", "NUMBA_NUM_THREADS")
LOOK_SECONDS = 0.2
LONGEST_MESSAGE = 1_000_000


class ReaderFailed(SlabError):
    """The reading process failed through no known fault of the file."""

    code = "scan-reader-failed"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Reading:
    """A file reduced over each floor, and the most memory that reading took."""

    floors: tuple[Reduction, ...]
    points_read: int
    peak_memory_bytes: int


def reduce_in_child(
    *,
    path: Path,
    floors: tuple[FloorShape, ...],
    placement: Placement,
    options: ScanOptions,
    unit_m: float | None = None,
    limits: Limits,
    progress: Callable[[Progress], None] = lambda message: None,
    stop: Callable[[], bool] = lambda: False,
    command: tuple[str, ...] = (sys.executable, "-P", "-m", "slab_files.importers.child"),
) -> Reading:
    """The floors' heights in a file of points; `unit_m` is the length of the file's unit, when known.

    `progress` hears of each chunk; `stop` is asked several times a second. `command` is what runs.

    Raises
    ------
    InputRefused
        when the file or its scan cannot be used, or needs more than the limits.
    Stopped
        when `stop` says so.
    ReaderFailed
        when the reader fails otherwise.
    """
    with tempfile.TemporaryDirectory(prefix="scan-") as folder:
        result = Path(folder) / "columns"
        request = Request(
            path=str(path.absolute()),
            result=str(result),
            unit_m=unit_m,
            floors=floors,
            placement=placement,
            options=options,
            limits=limits,
        )
        with _started(command, msgspec.json.encode(request), Path(folder) / "errors") as process:
            done = _listen(process, limits, progress, stop)
            if done is None:
                raise _ended(process.wait(), limits, Path(folder) / "errors")
        return Reading(
            floors=tuple(_reductions(done, result)),
            points_read=done.points_read,
            peak_memory_bytes=done.peak_memory_bytes,
        )


@contextmanager
def _started(command: tuple[str, ...], request: bytes, errors: Path) -> Iterator[subprocess.Popen[bytes]]:
    """A child with the request in its hands; it is dead when this ends."""
    environment = {name: os.environ[name] for name in PASSED_ON if name in os.environ}
    with (
        errors.open("wb") as sink,
        subprocess.Popen(
            command,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=sink,
            env={**environment, **dict.fromkeys(THREADS, "1")},
            start_new_session=True,
        ) as process,
    ):
        try:
            _hand_over(process, request)
            yield process
        finally:
            process.kill()


def _hand_over(process: subprocess.Popen[bytes], request: bytes) -> None:
    assert process.stdin is not None
    try:
        process.stdin.write(request)
        process.stdin.close()
    except BrokenPipeError:
        # It is dead already; how it ended says more.
        process.stdin = None


def _listen(
    process: subprocess.Popen[bytes],
    limits: Limits,
    progress: Callable[[Progress], None],
    stop: Callable[[], bool],
) -> Done | None:
    """Hear messages to the last; None when the child ends without one."""
    assert process.stdout is not None
    for message in _messages(process.stdout, limits, stop):
        if isinstance(message, Progress):
            progress(message)
        elif isinstance(message, Refused):
            raise InputRefused(message.problems)
        elif isinstance(message, Failed):
            raise _too_much_memory(limits) if message.memory else ReaderFailed(message.detail)
        else:
            return message
    return None


def _messages(pipe: IO[bytes], limits: Limits, stop: Callable[[], bool]) -> Iterator[Message]:
    ends, held = time.monotonic() + limits.wall_seconds, b""
    with selectors.DefaultSelector() as selector:
        selector.register(pipe, selectors.EVENT_READ)
        while True:
            if stop():
                raise Stopped("the reading of a scan was cancelled")
            if time.monotonic() > ends:
                raise _too_slow(f"{limits.wall_seconds:g} s")
            if not selector.select(LOOK_SECONDS):
                continue
            part = os.read(pipe.fileno(), 65_536)
            *lines, held = (held + part).split(b"\n")
            for line in lines:
                yield _decoded(line)
            if not part:
                return
            if len(held) > LONGEST_MESSAGE:
                raise ReaderFailed("the reader says more than a message")


def _decoded(line: bytes) -> Message:
    try:
        message: Message = msgspec.json.decode(line, type=Message)
    except msgspec.DecodeError as problem:
        raise ReaderFailed(f"the reader said {line[:200]!r}: {problem}") from None
    return message


def _ended(code: int, limits: Limits, errors: Path) -> SlabError:
    """What the end of a child without an answer means."""
    if code == -getattr(signal, "SIGXCPU", 0) and code:
        return _too_slow(f"{limits.cpu_seconds} s of the processor")
    if code in (-signal.SIGABRT, -getattr(signal, "SIGKILL", 9)):
        # The decompressor aborts when it is given no memory; the system kills who takes too much.
        return _too_much_memory(limits)
    if code < 0:
        detail = (
            f"The file made its reader stop ({signal.Signals(-code).name}). Write it anew and send it again."
        )
        return refuse(code="scan-reader-stopped", detail=detail)
    last = errors.read_bytes()[-2000:].decode("utf-8", "replace") if errors.exists() else ""
    return ReaderFailed(f"the reader ended with code {code}: {last}")


def _too_slow(what: str) -> InputRefused:
    detail = f"The file could not be read within {what}. Send a smaller part of it, or LAS instead of text."
    return refuse(code="scan-reader-too-slow", detail=detail)


def _too_much_memory(limits: Limits) -> InputRefused:
    mib = limits.memory_bytes // (1 << 20)
    detail = f"The file could not be read within {mib:,} MiB of memory. It may be damaged: write it anew."
    return refuse(code="scan-reader-out-of-memory", detail=detail)


def _reductions(done: Done, result: Path) -> Iterator[Reduction]:
    with result.open("rb") as file:
        for found in done.floors:
            if isinstance(found, Refused):
                yield found.problems
                continue
            columns = {name: np.load(file, allow_pickle=False) for name in COLUMNS}
            plain = {name: getattr(found, name) for name in Reduced.__struct_fields__}
            yield CellHeights(**columns, **plain)

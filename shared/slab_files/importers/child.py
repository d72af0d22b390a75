"""`python -m slab_files.importers.child`: reads one file under limits; a request comes in, messages go out.

Files are made by strangers. What they break, by mistake or on purpose, is this process alone: it has no
secrets in its environment, little memory and little time.
"""

import errno
import sys
from collections.abc import Callable
from pathlib import Path

import msgspec

from slab_core.errors import InputRefused
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

UNMAPPED = "failed to map segment"
"""So a loader says that there is no room for a part of a library."""


def main() -> int:
    """Answer one request; 0 when an answer was given, whatever it is."""
    request = msgspec.json.decode(sys.stdin.buffer.read(), type=Request)
    limit(request.limits)
    try:
        say(reduce_file(request, say))
    except InputRefused as refused:
        say(Refused(problems=refused.problems))
    except BrokenPipeError:
        return 1
    except BaseException as problem:  # a panic of the decompressor is no Exception
        say(Failed(memory=lacks_memory(problem), detail=f"{type(problem).__name__}: {problem}"[:2000]))
    return 0


def lacks_memory(problem: BaseException) -> bool:
    """Whether memory ran out: while reading, or while a library was loaded, whose parts then find no room."""
    if isinstance(problem, OSError):
        return problem.errno == errno.ENOMEM
    return isinstance(problem, MemoryError) or (isinstance(problem, ImportError) and UNMAPPED in str(problem))


def limit(limits: Limits) -> None:
    """Bound memory, processor time and the size of what is written, where the system can."""
    try:
        import resource
    except ImportError:  # not on Windows; the parent's wall limit remains
        return
    for kind, most, spare in (
        (resource.RLIMIT_DATA, limits.memory_bytes, 0),
        # At the soft limit of time the system says why it ends the process; at the hard one it does not.
        (resource.RLIMIT_CPU, limits.cpu_seconds, 2),
        (resource.RLIMIT_FSIZE, limits.result_bytes, 0),
        (resource.RLIMIT_CORE, 0, 0),
    ):
        _, hard = resource.getrlimit(kind)
        allowed = most + spare if hard == resource.RLIM_INFINITY else min(most + spare, hard)
        resource.setrlimit(kind, (min(most, allowed), allowed))


def say(message: Message) -> None:
    """Write a message as a line, at once."""
    sys.stdout.buffer.write(msgspec.json.encode(message) + b"\n")
    sys.stdout.buffer.flush()


def reduce_file(request: Request, say: Callable[[Message], None]) -> Done:
    """Read and reduce. The readers are imported here, when the limits stand already."""
    import numpy as np

    from slab_core.numerics.budget import Budget
    from slab_core.rooms.model import Floor
    from slab_core.scans.reduce import finish, gather
    from slab_files.importers.kinds import in_metres, open_points

    source = open_points(path=Path(request.path))
    say(Progress(points=0, claimed=source.claimed))
    floors = tuple(
        Floor(id=shape.id, rooms=(), shell=shape.shell, gaps=shape.gaps, area_m2=0.0, wall_m=0.0)
        for shape in request.floors
    )
    gathered = gather(
        floors=floors,
        chunks=in_metres(source=source, unit_m=request.unit_m),
        placement=request.placement,
        options=request.options,
        budget=Budget(),
        progress=lambda points: say(Progress(points=points, claimed=source.claimed)),
    )
    read = gathered[0].read
    found: list[Reduced | Refused] = []
    with Path(request.result).open("wb") as file:
        for floor, points in zip(floors, gathered, strict=True):
            try:
                cells = finish(gathered=points, floor=floor)
            except InputRefused as refused:
                found.append(Refused(problems=refused.problems))
                continue
            for name in COLUMNS:
                np.save(file, getattr(cells, name), allow_pickle=False)
            found.append(Reduced(**{name: getattr(cells, name) for name in Reduced.__struct_fields__}))
    return Done(floors=tuple(found), points_read=read, peak_memory_bytes=peak_memory_bytes())


def peak_memory_bytes() -> int:
    """The most memory that this program has had, 0 where the system does not say.

    The usual figure, `ru_maxrss`, begins with what the parent had when it started this process.
    """
    try:
        status = Path("/proc/self/status").read_text()
    except OSError:
        return 0
    return next((int(line.split()[1]) * 1024 for line in status.splitlines() if line.startswith("VmHWM")), 0)


if __name__ == "__main__":
    sys.exit(main())

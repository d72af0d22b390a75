"""What a benchmark is: a function `bench_…` in a file `bench_….py` that returns figures.

@measures("surface.500.")
def bench_surface_of_500_readings() -> list[Figure]: ...
"""

import importlib
import os
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any, TypedDict, TypeVar

HERE = Path(__file__).parent
Result = TypeVar("Result")
Function = TypeVar("Function", bound=Callable[[], Any])


class Figure(TypedDict):
    """One measured figure, the peer measured in the same run beside it (None where there is no peer)."""

    name: str
    value: float
    unit: str
    peer: str | None
    peer_value: float | None
    n: int
    memory_mb: float | None


Bench = Callable[[], list[Figure]]


def measures(*prefixes: str) -> Callable[[Function], Function]:
    """Say how the names of a benchmark's figures begin, so that it need not run when others are wanted."""

    def mark(function: Function) -> Function:
        function.__dict__["prefixes"] = prefixes
        return function

    return mark


def found_benchmarks(*, folder: Path = HERE, package: str = "tests.benchmarks") -> Iterator[Bench]:
    """All benchmarks, in the order of files and of functions in them."""
    for path in sorted(folder.glob("bench_*.py")):
        module = importlib.import_module(f"{package}.{path.stem}")
        named = [value for name, value in vars(module).items() if name.startswith("bench_")]
        yield from filter(callable, named)


def may_measure(bench: Bench, *, wanted: Sequence[str]) -> bool:
    """Whether a benchmark may give a figure whose name begins as wanted; it may when it does not say."""
    own = getattr(bench, "prefixes", None)
    if not wanted or own is None:
        return True
    return any(a.startswith(b) or b.startswith(a) for a in own for b in wanted)


def measure(benches: Iterator[Bench], *, wanted: Sequence[str]) -> Iterator[Figure]:
    """Run what may be wanted, give the figures that are. Raises ValueError for one of another form."""
    for bench in benches:
        if may_measure(bench, wanted=wanted):
            for figure in bench():
                if set(figure) != set(Figure.__annotations__):
                    raise ValueError(f"{bench.__name__} gave a figure with the parts {sorted(figure)}")
                if not wanted or figure["name"].startswith(tuple(wanted)):
                    yield figure


def processor_seconds(work: Callable[[], Result], *, rounds: int) -> tuple[Result, float]:
    """What the work gave, and the least seconds of the processor of several rounds on this thread."""
    seconds = []
    for _ in range(rounds):
        start = time.thread_time()
        result = work()
        seconds.append(time.thread_time() - start)
    return result, min(seconds)


def peak_memory_mb(work: Callable[[], Any]) -> float:
    """Peak resident memory of a process that is a copy of this one and does the work, in MB."""
    child = os.fork()
    if child == 0:
        try:
            work()
        finally:
            os._exit(0)
    usage = os.wait4(child, 0)[2]
    return usage.ru_maxrss / 1000.0


def cores() -> int:
    """How many cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1

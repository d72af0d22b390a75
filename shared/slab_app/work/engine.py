"""The real engine: stored bytes to models, one step of the core's line, models back to bytes."""

from collections import OrderedDict
from collections.abc import Callable
from pathlib import Path
from time import monotonic
from typing import Any, TypeVar

from slab_app.codec import Encoded, decode, encode
from slab_app.work import firm_schedules
from slab_app.work.ports import Computed, Upstream
from slab_app.work.scan_files import ScanFiles
from slab_core.job import Job
from slab_core.numerics.budget import Budget
from slab_core.numerics.digest import recipe
from slab_core.pipeline.order import Order
from slab_core.pipeline.orders import order
from slab_core.pipeline.warm import warm
from slab_core.scans.model import ReadScan
from slab_core.stages import FIRM_SCHEDULE, StepSpec

Model = TypeVar("Model")

KEPT_MODELS = 64
"""Decoded results a process keeps: a recipe names one content, whoever asks for it."""

KEPT_JOBS = 8


class Kept:
    """The most recently used values by key."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._values: OrderedDict[Any, Any] = OrderedDict()

    def get(self, key: Any, make: Callable[[], Any]) -> Any:
        """The kept value, or a new one made and kept."""
        if key not in self._values:
            self.put(key, make())
        self._values.move_to_end(key)
        return self._values[key]

    def put(self, key: Any, value: Any) -> None:
        """Keep a value, letting go of the one used longest ago."""
        self._values[key] = value
        while len(self._values) > self._most:
            self._values.popitem(last=False)


class Decoded:
    """Earlier results of a run as models, for the core."""

    def __init__(self, upstream: Upstream, kept: Kept) -> None:
        self._upstream = upstream
        self._kept = kept

    def model(self, kind: type[Model], stage: str, subject: str, alternate: str = "") -> Model:
        """The result of an earlier step, decoded once per process."""

        def load() -> Model:
            return decode(kind, self._upstream.load(stage, subject, alternate))

        found = self._kept.get(self.digest(stage, subject, alternate), load)
        assert isinstance(found, kind)
        return found

    def digest(self, stage: str, subject: str, alternate: str = "") -> bytes:
        """The recipe of an earlier step."""
        return self._upstream.digest(stage, subject, alternate)


class Engine:
    """Computes steps with `slab_core.pipeline`. One per process; not for threads."""

    def __init__(self) -> None:
        self._models = Kept(KEPT_MODELS)
        self._jobs = Kept(KEPT_JOBS)
        self._read: ReadScan | None = None
        self._last: tuple[StepSpec, Upstream, Order, bytes] | None = None

    def warm(self) -> None:
        """Compile every kernel; called in the parent before it forks, so it runs no solver."""
        warm()

    def open_files(self, *, folder: Path, most_seconds: float) -> None:
        """Say where files are stored, and how long the reading of one may take."""
        self._read = ScanFiles(folder=folder, most_seconds=most_seconds)

    def digest(self, *, step: StepSpec, job: Encoded, upstream: Upstream) -> bytes:
        """The recipe (32 bytes) of the step's result."""
        if step.stage == FIRM_SCHEDULE.name:
            return firm_schedules.digest(step=step, question=job)
        return self._prepare(step=step, job=job, upstream=upstream)[1]

    def compute(
        self,
        *,
        step: StepSpec,
        job: Encoded,
        upstream: Upstream,
        stop: Callable[[], bool],
        tell: Callable[[float], None],
    ) -> Computed:
        """The step's result.

        Raises
        ------
        slab_core.numerics.budget.Stopped
            soon after `stop` has begun to answer True.
        """
        if step.stage == FIRM_SCHEDULE.name:
            return firm_schedules.compute(question=job, stop=stop, tell=tell)
        todo, digest = self._prepare(step=step, job=job, upstream=upstream)
        model = todo.compute(Budget(clock=monotonic, stop=stop, tell=tell))
        self._last = None
        self._models.put(digest, model)
        return Computed(encoded=encode(model), problems=model.problems)

    def _prepare(self, *, step: StepSpec, job: Encoded, upstream: Upstream) -> tuple[Order, bytes]:
        """The order and its recipe; asking twice in a row for the same step prepares it once."""
        if self._last and self._last[0] is step and self._last[1] is upstream:
            return self._last[2], self._last[3]
        decoded: Job = self._jobs.get(job, lambda: decode(Job, job))
        todo = order(job=decoded, step=step, earlier=Decoded(upstream, self._models), read=self._read)
        digest = recipe(stage=step.stage, version=step.version, inputs=todo.inputs, upstream=todo.upstream)
        self._last = (step, upstream, todo, digest)
        return todo, digest

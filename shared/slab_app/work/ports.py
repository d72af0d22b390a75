"""What the step loop needs from the computing side, and what it offers it."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol
from uuid import UUID

from slab_app.codec import Encoded
from slab_core.errors import Problem
from slab_core.stages import StepSpec
from slab_store.unit_of_work import UnitOfWork

Key = tuple[str, str, str]
"""Stage, subject, alternate: names one result within a run."""


class Upstream(Protocol):
    """The results of the steps of this run that are done. All raise KeyError for one that is not."""

    def digest(self, stage: str, subject: str, alternate: str = "") -> bytes:
        """The digest that the result is kept under, 32 bytes."""
        ...

    def load(self, stage: str, subject: str, alternate: str = "") -> Encoded:
        """The result itself; read from the store when first asked for."""
        ...

    def keys(self) -> tuple[Key, ...]:
        """Every result there is, in the order of the plan."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Computed:
    """A stage's result. A problem of severity "refusal" ends the run after the result is stored, or only the
    alternate, if it is not the main one."""

    encoded: Encoded
    problems: tuple[Problem, ...] = ()
    quote: bytes | None = None

    @property
    def refuses(self) -> bool:
        """Whether the run or the alternate ends here."""
        return any(problem.severity == "refusal" for problem in self.problems)


class Engine(Protocol):
    """The estimating maths as the step loop sees it; both methods may raise InputRefused.

    Three more things are looked for and may be absent: `warm()`, called once before the worker forks;
    `open_files(folder=..., most_seconds=...)`, called in each child with the folder of stored files and the
    time that reading one may take; and `on_finished`, a tuple of OnFinished in place of the usual hooks,
    for results of another kind.
    """

    def digest(self, *, step: StepSpec, job: Encoded, upstream: Upstream) -> bytes:
        """The digest of the recipe, 32 bytes: equal digests mean equal results. Cheap."""
        ...

    def compute(
        self,
        *,
        step: StepSpec,
        job: Encoded,
        upstream: Upstream,
        stop: Callable[[], bool],
        tell: Callable[[float], None],
    ) -> Computed:
        """The result. May return or raise anything once `stop()` is true: the run was cancelled.

        A long computation may `tell` how much of it is done, from 0 to 1.
        """
        ...


OnFinished = Callable[[UnitOfWork, UUID, StepSpec, Computed], None]
"""Called in the transaction that finishes a step, computed now or found stored: unit of work, run id, step,
result. What it writes is there exactly if the step is done."""

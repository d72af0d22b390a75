"""How long a computation may take, without the core ever reading a clock of its own."""

from collections.abc import Callable
from dataclasses import dataclass

from slab_core.errors import SlabError


class Stopped(SlabError):
    """The computation was cancelled from outside."""

    code = "stopped"


def _never() -> bool:
    return False


def _unheard(share: float) -> None:
    pass


def _still() -> float:
    return 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """A deadline on the caller's clock (seconds), a question whether to stop at once, and an ear for how much
    of the work is done (a share from 0 to 1)."""

    deadline_s: float = float("inf")
    clock: Callable[[], float] = _still
    stop: Callable[[], bool] = _never
    tell: Callable[[float], None] = _unheard

    def left_s(self) -> float:
        """Seconds until the deadline; infinite without one.

        Raises
        ------
        Stopped
            when the caller wants the computation to end.
        """
        if self.stop():
            raise Stopped("the computation was cancelled")
        return max(0.0, self.deadline_s - self.clock())

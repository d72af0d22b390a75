"""What a step has to compute, and the earlier results it may use."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Protocol, TypeVar

from slab_core.numerics.budget import Budget
from slab_core.rooms.model import Floor, Rooms
from slab_core.stages import JOB

Model = TypeVar("Model")


class Earlier(Protocol):
    """Results of the steps that came before in the same run."""

    def model(self, kind: type[Model], stage: str, subject: str, alternate: str = "") -> Model:
        """The result itself."""

    def digest(self, stage: str, subject: str, alternate: str = "") -> bytes:
        """The recipe of the result."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """`inputs` enter the recipe as values, `upstream` as recipes; `compute` makes the result."""

    inputs: tuple[object, ...]
    upstream: tuple[bytes, ...]
    compute: Callable[[Budget], Any]


def floor_in(earlier: Earlier, floor_id: str) -> Floor:
    """The floor of the rooms stage. Raises StopIteration where it has no such floor."""
    rooms = earlier.model(Rooms, "rooms", JOB)
    return next(floor for floor in rooms.floors if floor.id == floor_id)

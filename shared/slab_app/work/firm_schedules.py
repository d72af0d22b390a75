"""The firm's schedule as a worker computes it: a run of one step, which is given the question whole."""

from collections.abc import Callable
from time import monotonic

from slab_app.codec import Encoded, decode, encode
from slab_app.work.ports import Computed
from slab_core.numerics.budget import Budget
from slab_core.numerics.digest import recipe
from slab_core.schedule.firm.answer import answer
from slab_core.schedule.firm.asked import FirmQuestion
from slab_core.stages import StepSpec


def digest(*, step: StepSpec, question: Encoded) -> bytes:
    """The recipe: everything that decides the answer stands in the question."""
    return recipe(stage=step.stage, version=step.version, inputs=(question.json,), upstream=())


def compute(*, question: Encoded, stop: Callable[[], bool], tell: Callable[[float], None]) -> Computed:
    """The answer, within the seconds that the question allows for the search.

    Raises
    ------
    slab_core.errors.InputRefused
        for what can never be planned.
    slab_core.numerics.budget.Stopped
        soon after `stop` has begun to answer True.
    """
    asked = decode(FirmQuestion, question)
    budget = Budget(deadline_s=monotonic() + asked.seconds, clock=monotonic, stop=stop, tell=tell)
    found = answer(question=asked, budget=budget)
    return Computed(encoded=encode(found), problems=found.problems)

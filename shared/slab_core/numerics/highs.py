"""The linear solver on one thread, silent, and heard out about every setting: it fails quietly otherwise."""

from typing import Any

import highspy

from slab_core.errors import SlabError


class SolverFailed(SlabError):
    """The solver did not take something or ended in a state that proves nothing."""

    code = "solver-failed"


def silent_highs() -> Any:
    """A new solver. Raises SolverFailed."""
    # The class behind highspy.Highs: its wrapper prints a banner before it can be told to be silent.
    highs = highspy._Highs()  # type: ignore[attr-defined]  # exported, but not in its stubs
    for name, value in (("output_flag", False), ("threads", 1), ("random_seed", 0)):
        must(highs.setOptionValue(name, value), what=f"option {name}")
    return highs


def must(status: highspy.HighsStatus, *, what: str) -> None:
    """Raises SolverFailed unless the solver took what it was given."""
    if status != highspy.HighsStatus.kOk:
        raise SolverFailed(f"the solver refused: {what}")


def run(highs: Any) -> highspy.HighsModelStatus:
    """Solve, and tell how it ended. Raises SolverFailed when the solver refuses; a warning is no refusal."""
    if highs.run() == highspy.HighsStatus.kError:
        raise SolverFailed("the solver refused: run")
    status: highspy.HighsModelStatus = highs.getModelStatus()
    return status

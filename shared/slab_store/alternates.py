"""What a run says of its alternates: each beside the others, and whose problem is whose."""

from dataclasses import dataclass

from slab_core.errors import Problem


@dataclass(frozen=True, slots=True, kw_only=True)
class AlternateSummary:
    """What one alternate comes to; None where it was refused. `plan_cost` is in planning costs, the hours
    are without daily set-up, the days those of the schedule."""

    alternate: str
    refused: bool = False
    passes: bool = False
    plan_cost: float | None = None
    bags: int | None = None
    grinding_hours: float | None = None
    pour_days: int | None = None
    site_days: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RunProblem(Problem):
    """A problem of a run. `alternate` is the first whose result says it, "" for what all of them share."""

    alternate: str = ""

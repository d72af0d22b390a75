"""The cheapest heights that pass, whatever can be placed: a lower bound of every way to correct a floor."""

from dataclasses import dataclass

import numpy as np

from slab_core.correction.optimum.floor import StraightedgeRows, columns_of_demand, on_grid, places_of
from slab_core.correction.optimum.lattice import coarser, finer_changes, finer_lies
from slab_core.correction.optimum.model import Demand, Lies, Optimum, OptimumStatus, Start
from slab_core.correction.optimum.relaxations import relaxations
from slab_core.correction.optimum.rows import all_of, rows_of
from slab_core.correction.optimum.solver import MOST_ROUNDS, Answer, Columns, Guess, from_nothing, solve
from slab_core.numerics.budget import Budget

PROVEN_GAP = 1e-3
VIOLATION_MM = 0.01

SEED_GAP, SEED_VIOLATION_MM = 1e-2, 0.05
"""A coarser lattice need not be closer than this to be a good start."""

FEWEST_ACROSS = 32
"""A lattice with fewer nodes across starts from the floor as it is."""


def unrestricted_optimum(
    *,
    demand: Demand,
    budget: Budget,
    gap: float = PROVEN_GAP,
    violation_mm: float = VIOLATION_MM,
    explain: bool = True,
    most_rounds: int = MOST_ROUNDS,
    bound_sought: float = np.inf,
    start: Start | None = None,
) -> Optimum:
    """The least cost of fill and grinding over all heights that keep the caps, ranges and rules.

    Every straightedge of every rule in sixteen directions is a linear row; rows join as they break. The
    corrected floor is checked by the tolerance code itself. The bound is proven by weak duality and holds
    even where the budget ends the work, or `most_rounds` of looking for broken rows on one lattice; nothing
    is looked for beyond the `bound_sought`. Where no heights would do, `relaxations` says what would, if it
    is to `explain`.

    Raises
    ------
    Stopped
        when the budget says so.
    """
    solved = _solved(
        demand=demand, budget=budget, gap=gap, violation_mm=violation_mm, most_rounds=most_rounds,
        bound_sought=bound_sought, start=start,
    )  # fmt: skip
    answer = solved.answer
    change = on_grid(demand=demand, values=answer.x)
    return Optimum(
        status=_status(answer=answer, gap=gap, violation_mm=violation_mm),
        corrected_mm=np.where(demand.inside, demand.heights_mm + change, 0.0),
        fill_mm=np.maximum(change, 0.0),
        grind_mm=np.maximum(-change, 0.0),
        cost=answer.cost,
        bound=np.inf if answer.impossible else max(0.0, answer.bound),
        violation_mm=max(0.0, answer.violation_mm),
        rounds=answer.rounds,
        relaxations=relaxations(demand=demand, budget=budget) if answer.impossible and explain else (),
        start=Start(
            change_mm=change,
            lies=solved.lies,
            y=answer.y,
            gaps_m=tuple(rule.gap_m for rule in demand.rules),
        ),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Solved:
    answer: Answer
    lies: Lies


def _solved(
    *,
    demand: Demand,
    budget: Budget,
    gap: float,
    violation_mm: float,
    most_rounds: int,
    bound_sought: float = np.inf,
    start: Start | None = None,
) -> _Solved:
    """From the `start`, or coarser lattices first: each answer starts the next finer one."""
    columns = columns_of_demand(demand)
    if columns is None:
        return _impossible(demand)
    guess, lies = from_nothing(columns=columns), all_of([])
    if start is not None:
        guess, lies = _begun(start=start, demand=demand, columns=columns)
    elif min(demand.inside.shape) > FEWEST_ACROSS:
        coarse_demand = coarser(demand)
        coarse = _solved(
            demand=coarse_demand,
            budget=budget,
            gap=SEED_GAP,
            violation_mm=SEED_VIOLATION_MM,
            most_rounds=most_rounds,
        )
        if not coarse.answer.impossible:
            guess, lies = _refined(demand=demand, coarse_demand=coarse_demand, coarse=coarse, columns=columns)
    look = StraightedgeRows(demand=demand, budget=budget, known=lies)
    answer = solve(
        columns=columns, look=look, guess=guess, gap=gap, violation_mm=violation_mm, budget=budget,
        most_rounds=most_rounds, bound_sought=bound_sought,
    )  # fmt: skip
    priced = answer.y > 0.0
    return _Solved(
        answer=Answer(
            x=answer.x,
            rows=answer.rows.only(priced),
            y=answer.y[priced],
            cost=answer.cost,
            bound=answer.bound,
            violation_mm=answer.violation_mm,
            rounds=answer.rounds,
            impossible=answer.impossible,
        ),
        lies=look.lies(answer.rows.only(priced)),
    )


def _begun(*, start: Start, demand: Demand, columns: Columns) -> tuple[Guess, Lies]:
    """What held the changes of another demand on the same nodes holds nearly those of this one."""
    lies = start.lies_of(demand.rules)
    heights = np.where(demand.inside, demand.heights_mm, 0.0)
    guess = Guess(
        x=np.clip(start.change_mm[demand.inside], columns.low, columns.high),
        rows=rows_of(lies=lies, heights_mm=heights, place=places_of(demand)),
        y=start.y,
        ratio=from_nothing(columns=columns).ratio,
    )
    return guess, lies


def _refined(
    *, demand: Demand, coarse_demand: Demand, coarse: _Solved, columns: Columns
) -> tuple[Guess, Lies]:
    """Four finer rows for each coarse one, with a quarter of its multiplier: a node stands for a quarter.

    Where a rule is of chords the heights alone are handed on: in a room shorter than the edge a chord rests
    on the last nodes before the walls, which are others on the finer lattice.
    """
    chords = any(rule.kind == "chord" for rule in demand.rules)
    lies, source = finer_lies(lies=all_of([]) if chords else coarse.lies, demand=demand)
    change = on_grid(demand=coarse_demand, values=coarse.answer.x)
    fine = finer_changes(change_mm=change, shape=demand.inside.shape)[demand.inside]
    heights = np.where(demand.inside, demand.heights_mm, 0.0)
    guess = Guess(
        x=np.clip(fine, columns.low, columns.high),
        rows=rows_of(lies=lies, heights_mm=heights, place=places_of(demand)),
        y=coarse.answer.y[source] / 4.0,
        ratio=from_nothing(columns=columns).ratio,
    )
    return guess, lies


def _impossible(demand: Demand) -> _Solved:
    nothing = np.zeros(int(demand.inside.sum()))
    empty = rows_of(lies=all_of([]), heights_mm=demand.heights_mm, place=places_of(demand))
    answer = Answer(
        x=nothing, rows=empty, y=np.zeros(0), cost=0.0, bound=np.inf, violation_mm=np.inf,
        rounds=0, impossible=True,
    )  # fmt: skip
    return _Solved(answer=answer, lies=all_of([]))


def _status(*, answer: Answer, gap: float, violation_mm: float) -> OptimumStatus:
    if answer.impossible:
        return "infeasible"
    if answer.violation_mm > violation_mm:
        return "unfinished"
    return "optimal" if answer.cost - answer.bound <= gap * answer.cost else "feasible"

"""The unrestricted optimum on one lattice: steps of the primal-dual method, with rows added as they break."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from slab_core.correction.optimum_kernels import columns_of, cost_of, iterate, least_of_columns, pulls
from slab_core.correction.optimum_model import DepthPrices
from slab_core.correction.optimum_rows import Rows, no_rows
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats

STEPS, MOST_STEPS = 30, 800
"""Steps between two looks for broken rows: few while many come, ever more when none does."""

FEW_NEW, OWN_SHARE = 3, 0.25
"""More steps are what is lacking where so few rows come, or where rows in hand are broken by such a share of
the worst violation."""

MOST_ROUNDS, SLOW_ROUNDS = 250, 25
"""Floors that take many rounds are given more steps in each."""

FORGET_MM = 0.1
"""A row without a multiplier and so far from its limit is dropped; it comes back if it breaks."""

OMEGA_RANGE = (0.3, 3.0)
"""How far the weight between multipliers and heights may stray from the ratio of their sizes."""

SHRINKS = (1.0, 0.9998, 0.9995, 0.999, 0.998, 0.995)
"""A little less of all multipliers often proves more: columns whose price they exceed cost a whole cap."""

CERTAIN = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Columns:
    """Changes of height in mm, low <= x <= high, `up` and `down` times the prices of fill and of grinding."""

    low: Floats
    high: Floats
    up: Floats
    down: Floats
    fill: DepthPrices
    grind: DepthPrices

    def cost(self, x: Floats) -> float:
        """What the changes cost."""
        return float(cost_of(x, self.up, self.down, *self._prices()))

    def least(self, pull: Floats, *, free: bool = False) -> float:
        """The least of price + pull · x over all columns; `free` leaves the prices out."""
        scale = 0.0 if free else 1.0
        return float(
            least_of_columns(pull, self.low, self.high, scale * self.up, scale * self.down, *self._prices())
        )

    def _prices(self) -> tuple[Floats, Floats, Floats, Floats]:
        return self.fill.breaks_mm, self.fill.per_mm, self.grind.breaks_mm, self.grind.per_mm


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Guess:
    """Where to start: changes, rows with their multipliers, and the weight between the two."""

    x: Floats
    rows: Rows
    y: Floats
    omega: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Answer:
    """`bound` holds whatever `closed` says; `open` rows have multipliers; `impossible` is proven."""

    x: Floats
    rows: Rows
    y: Floats
    omega: float
    cost: float
    bound: float
    violation_mm: float
    rounds: int
    impossible: bool


Look = Callable[[Floats], tuple[float, Rows]]
"""Changes of height to (worst violation in mm, rows that they break)."""


def solve(
    *,
    columns: Columns,
    look: Look,
    guess: Guess,
    gap: float,
    violation_mm: float,
    budget: Budget,
    close: float = 0.0,
) -> Answer:
    """Stop when the cost is proven within a share `gap` or an amount `close` of the least and no rule is
    broken by more than `violation_mm`, when no changes can keep the rows, or when budget or rounds end.

    Raises
    ------
    Stopped
        when the budget says so.
    """
    x, rows, y, omega = guess.x, guess.rows, guess.y, guess.omega
    bound, steps, rounds = -np.inf, STEPS, 0
    while True:
        violation, new = look(x)
        cost, bound = columns.cost(x), max(bound, _bound(columns=columns, rows=rows, y=y))
        impossible = _contradicts(columns=columns, rows=rows, y=y)
        closed = violation <= violation_mm and cost - bound <= max(gap * cost, close)
        if closed or impossible or rounds == MOST_ROUNDS or budget.left_s() <= 0.0:
            break
        left_over = rows.left_over(x)
        settled = len(new) > FEW_NEW and -left_over.min(initial=0.0) < OWN_SHARE * violation
        needed = (y > 0.0) | (left_over < FORGET_MM)
        rows, y = rows.only(needed).and_more(new), np.concatenate([y[needed], np.zeros(len(new))])
        # Rows beside each other on the floor lie beside each other in memory: a third of the time is saved.
        order = np.argsort(rows.column[:, 0], kind="stable")
        rows, y = rows.only(order), y[order]
        steps = STEPS * (1 + rounds // SLOW_ROUNDS) if settled else min(MOST_STEPS, 2 * steps)
        x, y, omega = _advance(columns=columns, rows=rows, x=x, y=y, omega=omega, steps=steps)
        rounds += 1
    return Answer(
        x=x, rows=rows, y=y, omega=omega, cost=cost, bound=bound, violation_mm=violation, rounds=rounds,
        impossible=impossible,
    )  # fmt: skip


def from_nothing(*, columns: Columns) -> Guess:
    """The floor as it is, as far as the columns' ranges allow."""
    scale = float(np.median(columns.up)) * float(columns.fill.per_mm[0])
    return Guess(
        x=np.clip(np.zeros_like(columns.low), columns.low, columns.high),
        rows=no_rows(),
        y=np.zeros(0),
        omega=5.0 * scale if scale > 0.0 else 1.0,
    )


def _advance(
    *, columns: Columns, rows: Rows, x: Floats, y: Floats, omega: float, steps: int
) -> tuple[Floats, Floats, float]:
    sizes = float(np.linalg.norm(x)), float(np.linalg.norm(y))
    if min(sizes) > 0.0:
        usual = sizes[1] / sizes[0]
        omega = float(np.clip(omega, OMEGA_RANGE[0] * usual, OMEGA_RANGE[1] * usual))
    start, column, weight = rows.packed()
    by_column, row, value = columns_of(start, column, weight, len(x))
    total = np.bincount(column, np.abs(weight), minlength=len(x))
    pace = 1.0 / np.maximum(total, 0.1)
    found = iterate(
        start, column, weight, by_column, row, value, rows.limit, columns.low, columns.high, columns.up,
        columns.down, columns.fill.breaks_mm, columns.fill.per_mm, columns.grind.breaks_mm,
        columns.grind.per_mm, x.copy(), y.copy(), omega, pace, steps,
    )  # fmt: skip
    return found[0], found[1], float(found[2])


def _bound(*, columns: Columns, rows: Rows, y: Floats) -> float:
    """Weak duality: whatever the multipliers, no changes that keep the rows cost less."""
    pull = pulls(*rows.packed(), y, len(columns.low))
    worth = float(rows.limit @ y)
    return max(columns.least(share * pull) - share * worth for share in SHRINKS)


def _contradicts(*, columns: Columns, rows: Rows, y: Floats) -> bool:
    """Farkas: a sum of rows that no changes within their ranges can keep proves that nothing can."""
    size = float(y.sum())
    if size <= 0.0:
        return False
    pull = pulls(*rows.packed(), y, len(columns.low))
    return columns.least(pull, free=True) - float(rows.limit @ y) > CERTAIN * size

"""The unrestricted optimum on one lattice: steps of the primal-dual method, with rows added as they break."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from slab_core.correction.optimum.kernels import cost_of, least_of_columns, pulls
from slab_core.correction.optimum.model import DepthPrices
from slab_core.correction.optimum.rows import Rows, no_rows
from slab_core.correction.optimum.steps import iterate
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats

STEPS, MOST_STEPS = 60, 800
"""Steps between two looks for broken rows: few while many come, ever more when none does."""

FEW_NEW, OWN_SHARE = 3, 0.25
"""More steps are what is lacking where so few rows come, or where rows in hand are broken by such a share of
the worst violation."""

MOST_ROUNDS, SLOW_ROUNDS = 250, 25
"""Floors that take many rounds are given more steps in each."""

FORGET_MM = 0.1
"""A row without a multiplier and so far from its limit is dropped; it comes back if it breaks."""

FIRM, FIRMER, FIRMER_BELOW = 20.0, 150.0, 0.01
"""The weight omega, in ratios of the sizes of multipliers and heights, while rows arrive, and once they are
so few: heights that move freely run to where rows are still lacking."""

SWINGS, CALMED, LEAST_CALM, SWINGS_FROM = 2.0, 0.5, 0.02, 4
"""Where the rules can hardly be kept, multipliers run far ahead of firm heights, which then swing: when the
worst violation is so many times that of the look before while grinding is at its limit somewhere, the weight
is lowered to such a share and stays so. The first looks say nothing, as their rows are new."""

AT_LIMIT_MM = 0.01

LOOSE, PROOF_STEPS, PROOFS = 0.07, 60, 4
"""The weight and the steps that bring multipliers to a good bound; the heights with them are left."""

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

    def at_limit(self, x: Floats) -> bool:
        """Whether something is ground as deep as it may be."""
        return bool(np.any((self.low < 0.0) & (x <= self.low + AT_LIMIT_MM)))

    def least(self, pull: Floats) -> float:
        """The least of price + pull · x over all columns."""
        return float(least_of_columns(pull, self.low, self.high, self.up, self.down, *self._prices()))

    def least_unpriced(self, pull: Floats) -> float:
        """The least of pull · x over all columns."""
        return float(np.minimum(pull * self.low, pull * self.high).sum())

    def steps(self, *, rows: Rows, x: Floats, y: Floats, omega: float, count: int) -> tuple[Floats, Floats]:
        """(changes, multipliers) after so many steps."""
        total = np.bincount(rows.column.ravel(), np.abs(rows.weight).ravel(), minlength=len(x))
        fill_mm, fill, grind_mm, grind = self._prices()
        found = iterate(
            rows.column, _short(rows.weight), _short(rows.limit), _short(self.low), _short(self.high),
            _short(self.up), _short(self.down), _short(fill_mm), _short(fill), _short(grind_mm),
            _short(grind), _short(1.0 / np.maximum(total, 0.1)), _short(x), _short(y), np.float32(omega),
            count,
        )  # fmt: skip
        return np.clip(found[0].astype(np.float64), self.low, self.high), found[1].astype(np.float64)

    def _prices(self) -> tuple[Floats, Floats, Floats, Floats]:
        return self.fill.breaks_mm, self.fill.per_mm, self.grind.breaks_mm, self.grind.per_mm


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Guess:
    """Where to start: changes, rows, multipliers, and the ratio of their sizes where one is nothing."""

    x: Floats
    rows: Rows
    y: Floats
    ratio: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Answer:
    """`bound` holds however the work ended; `y` are multipliers of `rows`; `impossible` is proven."""

    x: Floats
    rows: Rows
    y: Floats
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
    most_rounds: int = MOST_ROUNDS,
    bound_sought: float = np.inf,
) -> Answer:
    """Stop when no rule is broken by more than `violation_mm` and the cost is proven within a share `gap` or
    an amount `close` of the least, or to be no less than the `bound_sought`; when no changes can keep the
    rows; or when budget or rounds end.

    Raises
    ------
    Stopped
        when the budget says so.
    """
    x, rows, y = guess.x, guess.rows, guess.y
    bound, steps, rounds, calm, before = -np.inf, STEPS, 0, 1.0, np.inf
    while True:
        violation, new = look(x)
        cost = columns.cost(x)
        impossible = _contradicts(columns=columns, rows=rows, y=y)
        last = impossible or rounds >= most_rounds or budget.left_s() <= 0.0
        if last or violation <= violation_mm:
            enough = min(bound_sought, cost - max(gap * cost, close))
            bound, y = _proven(
                columns=columns, rows=rows, x=x, y=y, ratio=guess.ratio, bound=bound, enough=enough,
                proofs=0 if last else PROOFS,
            )  # fmt: skip
            if last or bound >= enough:
                break
        left_over = rows.left_over(x)
        settled = len(new) > FEW_NEW and -left_over.min(initial=0.0) < OWN_SHARE * violation
        steps = STEPS * (1 + rounds // SLOW_ROUNDS) if settled else min(MOST_STEPS, 2 * steps)
        if rounds >= SWINGS_FROM and violation > SWINGS * before and columns.at_limit(x):
            calm = max(LEAST_CALM, CALMED * calm)
        before = violation
        firm = FIRMER if len(new) <= FIRMER_BELOW * len(rows) else FIRM
        needed = (y > 0.0) | (left_over < FORGET_MM)
        rows, y = rows.only(needed).and_more(new), np.concatenate([y[needed], np.zeros(len(new))])
        rows, y = _in_order(rows=rows, y=y)
        omega = calm * firm * _ratio(x=x, y=y, otherwise=guess.ratio)
        x, y = columns.steps(rows=rows, x=x, y=y, omega=omega, count=steps)
        rounds += 1
    return Answer(
        x=x,
        rows=rows,
        y=y,
        cost=cost,
        bound=bound,
        violation_mm=violation,
        rounds=rounds,
        impossible=impossible,
    )


def from_nothing(*, columns: Columns) -> Guess:
    """The floor as it is, as far as the columns' ranges allow."""
    scale = float(np.median(columns.up)) * float(columns.fill.per_mm[0])
    return Guess(
        x=np.clip(np.zeros_like(columns.low), columns.low, columns.high),
        rows=no_rows(),
        y=np.zeros(0),
        ratio=scale if scale > 0.0 else 1.0,
    )


def _in_order(*, rows: Rows, y: Floats) -> tuple[Rows, Floats]:
    """Rows with a multiplier first, then as they lie on the floor: memory and branches are read ahead."""
    order = np.lexsort((rows.column[:, 0], y <= 0.0))
    return rows.only(order), y[order]


def _ratio(*, x: Floats, y: Floats, otherwise: float) -> float:
    """The size of all multipliers to that of all changes."""
    sizes = float(np.sqrt(np.square(x).sum())), float(np.sqrt(np.square(y).sum()))
    return sizes[1] / sizes[0] if min(sizes) > 0.0 else otherwise


def _proven(
    *,
    columns: Columns,
    rows: Rows,
    x: Floats,
    y: Floats,
    ratio: float,
    bound: float,
    enough: float,
    proofs: int,
) -> tuple[float, Floats]:
    """(the best bound, its multipliers): steps with large moves of the heights until it is enough."""
    best, best_y = _bound(columns=columns, rows=rows, y=y), y
    for _ in range(proofs):
        if max(best, bound) >= enough:
            break
        omega = LOOSE * _ratio(x=x, y=y, otherwise=ratio)
        x, y = columns.steps(rows=rows, x=x, y=y, omega=omega, count=PROOF_STEPS)
        told = _bound(columns=columns, rows=rows, y=y)
        if told > best:
            best, best_y = told, y
    return max(best, bound), best_y


def _short(values: Floats) -> NDArray[np.float32]:
    return np.ascontiguousarray(values, dtype=np.float32)


def _bound(*, columns: Columns, rows: Rows, y: Floats) -> float:
    """Weak duality: whatever the multipliers, no changes that keep the rows cost less."""
    pull = pulls(rows.column, rows.weight, y, len(columns.low))
    worth = float(rows.limit @ y)
    return max(columns.least(share * pull) - share * worth for share in SHRINKS)


def _contradicts(*, columns: Columns, rows: Rows, y: Floats) -> bool:
    """Farkas: a sum of rows that no changes within their ranges can keep proves that nothing can."""
    size = float(y.sum())
    if size <= 0.0:
        return False
    pull = pulls(rows.column, rows.weight, y, len(columns.low))
    return columns.least_unpriced(pull) - float(rows.limit @ y) > CERTAIN * size

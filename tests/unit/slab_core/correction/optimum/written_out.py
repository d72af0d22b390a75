"""Small demands for the cheapest heights, and their least cost by another solver, all rows written out."""

from dataclasses import replace
from typing import Any

import numpy as np
from scipy.optimize import linprog

from slab_core.correction.optimum.heights import unrestricted_optimum
from slab_core.correction.optimum.model import Demand, DepthPrices, Optimum
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats, Grid
from slab_core.tolerance.lattice import DIRECTIONS, free_steps
from slab_core.tolerance.model import Rule
from slab_core.tolerance.straightedge import departures
from tests.slabs import rectangle

STEP_M = 0.25
RULE = Rule(length_m=1.5, gap_m=0.003)
FLAT_PRICES = DepthPrices(breaks_mm=np.zeros(0), per_mm=np.array([1.0]))
DEARER_BELOW = DepthPrices(breaks_mm=np.array([1.0]), per_mm=np.array([2.0, 5.0]))
NO_STEP = 1e-9


def demand(heights_mm: Floats, *, rules: tuple[Rule, ...] = (RULE,), **changes: Any) -> Demand:
    """A rectangular floor with these heights on its nodes."""
    ny, nx = heights_mm.shape
    inside = np.ones(heights_mm.shape, dtype=np.bool_)
    grid = Grid(x0_m=0.0, y0_m=0.0, step_m=STEP_M, nx=nx, ny=ny)
    floor = rectangle((nx - 1) * STEP_M, (ny - 1) * STEP_M)
    usual = Demand(
        step_m=STEP_M,
        heights_mm=heights_mm,
        inside=inside,
        free=free_steps(floor=floor, grid=grid, inside=inside),
        rules=rules,
        fill_weight=np.full(heights_mm.shape, STEP_M**2),
        grind_weight=np.full(heights_mm.shape, STEP_M**2),
        fill_prices=FLAT_PRICES,
        grind_prices=DEARER_BELOW,
        greatest_grind_mm=4.0,
        greatest_fill_mm=20.0,
        keep_grinder_off=~inside,
        keep_fill_off=~inside,
        lowest_mm=np.full(heights_mm.shape, -np.inf),
        highest_mm=np.full(heights_mm.shape, np.inf),
    )
    return replace(usual, **changes)


def wavy(seed: int, *, shape: tuple[int, int] = (9, 8), high_mm: float = 5.0) -> Floats:
    """A tilted slab with a wave and roughness."""
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[0 : shape[0], 0 : shape[1]] * STEP_M
    direction, length = rng.uniform(0, np.pi), rng.uniform(1.0, 2.5)
    along = x * np.cos(direction) + y * np.sin(direction)
    wave = high_mm * np.sin(2 * np.pi * along / length + rng.uniform(0, 6.28))
    return np.asarray(wave + 2.0 * x + rng.normal(0.0, 0.5, shape), dtype=np.float64)


def solved(wanted: Demand) -> Optimum:
    return unrestricted_optimum(demand=wanted, budget=Budget())


def violation_mm(wanted: Demand, corrected_mm: Floats) -> float:
    """By how much the worst departure exceeds its rule, by the tolerance code."""
    ny, nx = corrected_mm.shape
    grid = Grid(x0_m=0.0, y0_m=0.0, step_m=wanted.step_m, nx=nx, ny=ny)
    return max(
        float(
            1e3
            * (
                departures(
                    grid=grid, heights_m=corrected_mm * 1e-3, free=wanted.free, rule=rule, budget=Budget()
                )
                .larger_m()
                .max()
                - rule.gap_m
            )
        )
        for rule in wanted.rules
    )


def dense_least_cost(wanted: Demand) -> float | None:
    """The same optimum with every pair of supports written out as a row, solved by another solver.

    Columns: fill, the first slice of grinding, the rest of it.
    """
    ny, nx = wanted.heights_mm.shape
    n = nx * ny
    rows, limits = [], []

    def lie(points: list[tuple[int, int, float]], gap_mm: float, side: float) -> None:
        row, rest = np.zeros(3 * n), gap_mm
        for j, i, share in points:
            k = j * nx + i
            row[[k, n + k, 2 * n + k]] += side * share * np.array([1.0, -1.0, -1.0])
            rest -= side * share * wanted.heights_mm[j, i]
        rows.append(row)
        limits.append(rest)

    def between(j: int, i: int, dx: int, dy: int, at: float, share: float) -> list[tuple[int, int, float]]:
        low = int(np.floor(at + NO_STEP))
        part = at - low if at - low > NO_STEP else 0.0
        found = [(j + low * dy, i + low * dx, share * (1.0 - part))]
        return [*found, (j + (low + 1) * dy, i + (low + 1) * dx, share * part)] if part else found

    for rule in wanted.rules:
        sides = (1.0,) if rule.kind == "gap-only" else (1.0, -1.0)
        for dx, dy in DIRECTIONS:
            span = rule.length_m / (STEP_M * np.hypot(dx, dy))
            for j in range(ny):
                for i in range(nx):
                    steps = [0]
                    while 0 <= i + steps[-1] * dx + dx < nx and j + steps[-1] * dy + dy < ny:
                        steps.append(steps[-1] + 1)
                    starts_run = not (0 <= i - dx < nx and j - dy >= 0)
                    last = steps[-1]
                    if not starts_run or last < 2:
                        continue
                    whole = last <= span + NO_STEP
                    pairs = [(0.0, float(last))] if whole else []
                    for e in [] if whole else steps:
                        pairs += [(e, e + span)] if e + span <= last + NO_STEP else []
                        pairs += [(e - span, float(e))] if e - span >= -NO_STEP else []
                    for a, b in pairs:
                        inner = [a, *range(int(np.floor(a + NO_STEP)) + 1, int(np.ceil(b - NO_STEP))), b]
                        supports = [(a, b)] if rule.kind == "chord" else [
                            (p, q) for p in inner for q in inner if p < q
                        ]  # fmt: skip
                        for p, q in supports:
                            for k in range(int(np.floor(p + NO_STEP)) + 1, int(np.ceil(q - NO_STEP))):
                                share = (q - k) / (q - p)
                                points = between(j, i, dx, dy, p, share)
                                points += between(j, i, dx, dy, q, 1.0 - share)
                                points.append((j + k * dy, i + k * dx, -1.0))
                                for side in sides:
                                    lie(points, rule.gap_m * 1e3, side)
    weight = STEP_M**2
    cost = weight * np.repeat([1.0, 2.0, 5.0], n)
    bounds = [(0.0, wanted.greatest_fill_mm)] * n + [(0.0, 1.0)] * n
    bounds += [(0.0, wanted.greatest_grind_mm - 1.0)] * n
    found = linprog(cost, A_ub=np.array(rows), b_ub=np.array(limits), bounds=bounds, method="highs")
    return None if found.fun is None else float(found.fun)

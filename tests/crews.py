"""What a crew makes of a true slab: an own simulation, which shares no code with the core's.

Pins are off one by one and the floor is straight over the triangles between them; a ground area wanders
slowly; a ripple of short waves lies on all work. A grinder takes away only what is there, and a pour covers
only what is below it: what stands through is scraped till an edge shows no more than 0.3 mm. Amounts are
common practice, no single source.
"""

import numpy as np
from scipy import ndimage
from scipy.interpolate import LinearNDInterpolator, NearestNDInterpolator

from slab_core.correction.model import Plan
from slab_core.numerics.grid import Floats
from tests.real_slabs import RealSlab

INCH_M = 0.0254
PIN_SD_M = GROUND_SD_M = INCH_M / 32
RIPPLE_SD_M = INCH_M / 128
SHOWN_M = 0.0003
RUNS_ON_M = 0.3


def true_heights_m(*, real: RealSlab | None, plan: Plan) -> Floats:
    """The slab itself at the plan's nodes, shape (ny, nx)."""
    assert real is not None
    xs, ys = np.meshgrid(plan.grid.xs(), plan.grid.ys())
    return real.slab.height(xs, ys)


def built_m(*, slab_m: Floats, fitted_m: Floats, plan: Plan, rng: np.random.Generator) -> Floats:
    """The finished floor at the plan's nodes, shape (ny, nx); `fitted_m` is the slab as the plan took it."""
    xs, ys = np.meshgrid(plan.grid.xs(), plan.grid.ys())
    aim = fitted_m + (plan.fill - plan.grind) * 1e-5
    ripple = _waves(xs, ys, sd_m=RIPPLE_SD_M, lengths_m=(0.4, 1.0), rng=rng)
    ground = aim + ripple + _waves(xs, ys, sd_m=GROUND_SD_M, lengths_m=(1.8, 4.0), rng=rng)
    built = np.where(plan.grind > 0, np.minimum(slab_m, ground), slab_m)
    filled = plan.fill > 0
    if not filled.any():
        return np.asarray(built)
    poured = aim + ripple + _between_pins(xs, ys, plan=plan, rng=rng)
    near = ndimage.distance_transform_edt(~filled) * plan.grid.step_m <= RUNS_ON_M
    built = np.where((plan.grind > 0) & near & (slab_m < poured), poured, built)
    through = np.minimum(slab_m - plan.grind * 1e-5, poured + SHOWN_M)
    return np.asarray(np.where(filled, np.maximum(poured, through), built))


def _between_pins(xs: Floats, ys: Floats, *, plan: Plan, rng: np.random.Generator) -> Floats:
    at = np.array(sorted({pin.at for pour in plan.pours for pin in pour.pins}))
    off = rng.normal(0.0, PIN_SD_M, len(at))
    nearest = NearestNDInterpolator(at, off)(xs, ys)
    spread = np.linalg.matrix_rank(at - at.mean(axis=0), tol=0.05) if len(at) >= 3 else 0
    if spread < 2:
        return np.asarray(nearest)
    inner = LinearNDInterpolator(at, off)(xs, ys)
    return np.asarray(np.where(np.isnan(inner), nearest, inner))


def _waves(
    xs: Floats, ys: Floats, *, sd_m: float, lengths_m: tuple[float, float], rng: np.random.Generator
) -> Floats:
    """A sum of plane waves of these lengths in all directions."""
    count = 24
    total = np.zeros_like(xs)
    for length in rng.uniform(*lengths_m, count):
        angle, phase = rng.uniform(0.0, np.pi), rng.uniform(0.0, 2.0 * np.pi)
        along = np.cos(angle) * xs + np.sin(angle) * ys
        total = total + np.sin(2.0 * np.pi * along / length + phase)
    return np.asarray(sd_m * np.sqrt(2.0 / count) * total)

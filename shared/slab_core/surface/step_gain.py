"""How much better the readings are explained when something is added to the smooth surface.

The surface is taken on few knots with the smoothing and the noise of the fit that is there; what is added are
columns beside it, as for declared joints. Declared joints, and what was found before, stand in the model as
columns too, so that nothing is found twice.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve

from slab_core.numerics.grid import Floats
from slab_core.surface.design import Border, Design, border, normal_equations, predicted
from slab_core.surface.joint_scales import KINK_SCALES, STEP_SCALES
from slab_core.surface.joints import COLUMNS, STEP_COLUMNS, columns, even_steps
from slab_core.surface.model import SplineJoint
from slab_core.surface.posterior import Posterior, posterior, solved
from slab_core.surface.relief import observed_at
from slab_core.surface.robust import Robust, Task

MOST_SEARCHED = 1_000
"""Of more readings, so many by chance are looked at: steps are long, and time is short."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Known:
    """Columns that stand in the model already, shape (n, k), and the standard deviations of their
    coefficients, shape (k,); `shared` as in Complement, `factor` of the coefficients' inverse covariance."""

    columns: Floats
    sds: Floats
    shared: Floats
    factor: tuple[Floats, bool]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Smooth:
    """A smooth surface by itself, and what it leaves of the readings, alone and with what is `known`."""

    x_m: Floats
    y_m: Floats
    weight: Floats
    design: Design
    found: Posterior
    precision: Floats
    at_m: Floats
    alone_m: Floats
    left_m: Floats
    known: Known | None

    def observed(self, *joints: SplineJoint) -> Floats:
        """Observations of the joints' columns, shape (n, COLUMNS · joints)."""
        return self._at_places(lambda x, y: columns(joints=joints, x_m=x, y_m=y), COLUMNS * len(joints))

    def even_steps(self, joints: Sequence[SplineJoint]) -> Floats:
        """The first column of each joint that ends at walls, shape (n, joints)."""
        return self._at_places(lambda x, y: even_steps(joints=joints, x_m=x, y_m=y), len(joints))

    def _at_places(self, values: Callable[[Floats, Floats], Floats], count: int) -> Floats:
        out = np.zeros((len(self.weight), count))
        for place in range(self.weight.shape[1]):
            at = np.flatnonzero(self.weight[:, place])
            if len(at):
                out[at] += self.weight[at, place][:, None] * values(self.x_m[at, place], self.y_m[at, place])
        return out

    def evidence(self, beside: Floats) -> tuple[Floats, Floats]:
        """Normal equations of columns, shape (n, m), after all else is solved for: (m, m) and (m,)."""
        edge = self._border(beside, self.left_m)
        gram = edge.own - edge.cross.T @ solved(self.found, edge.cross)
        if self.known is not None:
            across = self.known.columns.T @ (self.precision[:, None] * beside)
            across -= self.known.shared.T @ edge.cross
            gram -= across.T @ cho_solve(self.known.factor, across)
        return gram, edge.right

    def knowing(self, beside: Floats, *, sds: Floats) -> "Smooth":
        """The same with more columns in it, whose coefficients have standard deviations `sds`."""
        if self.known is not None:
            beside, sds = np.hstack([self.known.columns, beside]), np.concatenate([self.known.sds, sds])
        edge = self._border(beside, self.alone_m)
        shared = solved(self.found, edge.cross)
        factor = cho_factor(edge.own - edge.cross.T @ shared + np.diag(1.0 / np.square(sds)), lower=True)
        mean = cho_solve(factor, edge.right)
        smooth = predicted(design=self.design, coefficients=shared @ mean)
        return replace(
            self,
            left_m=self.alone_m - beside @ mean + smooth,
            known=Known(columns=beside, sds=sds, shared=shared, factor=factor),
        )

    def _border(self, beside: Floats, value_m: Floats) -> Border:
        return border(design=replace(self.design, beside=beside), precision=self.precision, value_m=value_m)


def smooth_of(task: Task, robust: Robust) -> Smooth:
    """The smooth surface of a fit, on few knots, with the declared joints known to be joints."""
    fitted = robust.fitted
    rows = np.flatnonzero(fitted.used > 0.0)
    if len(rows) > MOST_SEARCHED:
        rows = np.sort(np.random.default_rng(0).choice(rows, MOST_SEARCHED, replace=False))
    seen, value = task.observations, task.value_m[rows]
    precision = fitted.used[rows] / fitted.smoothed.noise
    made = _of_rows(task.rough, rows)
    band, right = normal_equations(design=made, precision=precision, value_m=value)
    smoothing = float(np.exp(fitted.smoothed.log_smoothing)) / fitted.smoothed.noise
    found = posterior(design=made, band=band, right=right, precision=precision, smoothing=smoothing)
    left = value - predicted(design=made, coefficients=found.coefficients)
    smooth = Smooth(
        x_m=seen.x_m[rows],
        y_m=seen.y_m[rows],
        weight=seen.weight[rows],
        design=made,
        found=found,
        precision=precision,
        at_m=observed_at(seen)[rows],
        alone_m=left,
        left_m=left,
        known=None,
    )
    if not made.beside.shape[1]:
        return smooth
    widest = [STEP_SCALES[-1]] * STEP_COLUMNS + [KINK_SCALES[-1]] * (COLUMNS - STEP_COLUMNS)
    sds = np.ones(made.beside.shape[1])  # of what stands beside the spline and is no joint
    sds[: COLUMNS * len(task.rough.joints)] = np.tile(widest, len(task.rough.joints))
    return smooth.knowing(made.beside, sds=sds)


def _of_rows(design: Design, rows: NDArray[np.int64]) -> Design:
    """The design of some of its observations, in their order."""
    place = np.full(design.count, -1)
    place[rows] = np.arange(len(rows))
    single, coupled = place[design.single], place[design.coupled_rows]
    return replace(
        design,
        single=single[single >= 0],
        first=design.first[single >= 0],
        values=design.values[single >= 0],
        coupled_rows=coupled[coupled >= 0],
        coupled=design.coupled[:, coupled >= 0],
        beside=design.beside[rows],
    )


def gains(own: Floats, right: Floats, *, scales: tuple[float, ...]) -> Floats:
    """By how much each of m columns by itself raises 2 times the log likelihood, its coefficient integrated
    out under the best of the standard deviations `scales`; `own` is the diagonal of the columns' gram."""
    each = [np.square(right) / (own + 1.0 / s**2) - np.log1p(np.maximum(own, 0.0) * s**2) for s in scales]
    return np.asarray(np.max(each, axis=0))

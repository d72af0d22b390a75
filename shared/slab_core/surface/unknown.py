"""What readings leave unknown of sums over the floor, and what one more reading would tell of them.

The covariance of a sum with the height at every node is one solve on the factored posterior; each reading
that is taken in costs one more and lowers all variances by an update of rank one.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from scipy.linalg import cho_solve

from slab_core.numerics.grid import ERROR_STEP_M, Floats, to_metres
from slab_core.surface.model import Surface
from slab_core.surface.posterior import axes, on_grid, solved
from slab_core.surface.sample import rebuilt
from slab_core.surface.unseen import unseen_fields


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sums:
    """m sums Σ gᵢ(zᵢ) over the nodes: `weights` E g′ᵢ and `bends` E g″ᵢ, shape (m, ny, nx), per metre.

    With these weights the covariances of sums and heights are exact for normal heights, however the g bend
    (C. M. Stein, "Estimation of the mean of a multivariate normal distribution", 1981, from memory). `probes`
    are draws of the surface less its heights in metres, shape (p, ny, nx), over which the bends' part of the
    variance, to second order, is averaged; without them that part is left out.
    """

    weights: Floats
    bends: Floats
    probes: Floats


class Unknown:
    """Variances of sums and of the nodes' heights, and the covariances of the two, in metres.

    `variance` has the shape (ny, nx), `shared` (m, ny, nx).
    """

    def __init__(self, *, surface: Surface, sums: Sums) -> None:
        self._found = rebuilt(surface.spline)
        self._rows, self._columns = axes(self._found.design, surface.grid)
        self._unseen = unseen_fields(spline=surface.spline, grid=surface.grid)
        self._beside = on_grid(self._found.design, surface.grid)
        self._weights = sums.weights
        self._bends = sums.bends.reshape(len(sums.bends), -1)
        self._read: list[Floats] = []
        # The stored errors spare the diagonal of the inverse; they are rounded to 0.001 mm.
        self.variance = np.square(to_metres(surface.error, step_m=ERROR_STEP_M))
        self.shared = np.stack([self._covariance(weight) for weight in sums.weights])
        self._straight = np.einsum("kji,kji->k", sums.weights, self.shared)
        self._bent = np.array([_mean(self._bent_part(bend, sums.probes)) for bend in sums.bends])

    def sd(self) -> tuple[float, ...]:
        """Standard deviations of the sums."""
        told = np.array([0.5 * np.square(self._between(bend)).sum() for bend in self._bends])
        bent = np.maximum(self._bent - told, 0.0)
        return tuple(float(sd) for sd in np.sqrt(np.maximum(self._straight, 0.0) + bent))

    def covariance(self) -> Floats:
        """Of the sums with each other, bends apart, shape (m, m)."""
        return np.asarray(np.einsum("kji,lji->kl", self._weights, self.shared))

    def told(self, *, noise: float) -> Floats:
        """How much of the first sum's variance a reading at every node would take off, bends apart."""
        return np.asarray(np.square(self.shared[0]) / (self.variance + noise))

    def read(self, *, row: int, column: int, noise: float) -> None:
        """Take in a height read at a node with the variance `noise`, m²."""
        at = np.zeros(self.variance.shape)
        at[row, column] = 1.0
        field = self._covariance(at)
        for known in self._read:
            field = field - known[row, column] * known
        size = np.sqrt(float(field[row, column]) + noise)
        scaled, with_sums = field / size, self.shared[:, row, column] / size
        self._read.append(scaled)
        self._straight = self._straight - np.square(with_sums)
        self.shared = self.shared - with_sums[:, None, None] * scaled
        self.variance = np.maximum(self.variance - np.square(scaled), 0.0)

    def _between(self, bend: Floats) -> Floats:
        """Kᵀ Γ K for what the readings told, K Kᵀ of the heights' covariance."""
        told = np.array(self._read).reshape(len(self._read), bend.size)
        return np.asarray((told * bend) @ told.T)

    def _bent_part(self, bend: Floats, probes: Floats) -> Iterator[float]:
        """½ tr(Γ C Γ C), one estimate for each draw x of covariance C: ½ (Γ x)ᵀ C (Γ x)."""
        for probe in probes:
            bent = bend * probe
            yield 0.5 * float((bent * self._covariance(bent)).sum())

    def _covariance(self, weight: Floats) -> Floats:
        """Of Σ weight · height, by the readings that the surface was fitted to, with every node's height."""
        found = self._found
        right = (self._rows.T @ (weight.T if found.design.swapped else weight) @ self._columns).ravel()
        coefficients = solved(found, right[:, None])[:, 0]
        unseen = sum((field.with_sum(weight) for field in self._unseen), np.zeros(weight.shape))
        if not len(found.schur):
            return unseen + self._at_nodes(coefficients)
        beside = np.einsum("ji,jim->m", weight, self._beside) - found.shared.T @ right
        beside = cho_solve((found.schur, True), beside)
        smooth = self._at_nodes(coefficients - found.shared @ beside) + self._beside @ beside
        return np.asarray(unseen + smooth)

    def _at_nodes(self, coefficients: Floats) -> Floats:
        design = self._found.design
        heights = self._rows @ coefficients.reshape(design.basis.shape) @ self._columns.T
        return np.asarray(heights.T if design.swapped else heights)


def straight(weights: Floats) -> Sums:
    """Sums that do not bend: plain weighted heights."""
    return Sums(weights=weights, bends=np.zeros_like(weights), probes=np.empty((0, *weights.shape[1:])))


def _mean(values: Iterator[float]) -> float:
    found = list(values)
    return sum(found) / len(found) if found else 0.0

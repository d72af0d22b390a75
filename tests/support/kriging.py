"""Universal kriging by one dense solve: slow, short, and independent of the surface stage it checks.

Source of the equations: G. Matheron, "The intrinsic random functions and their applications", 1973;
leave-one-out from the inverse of the bordered matrix: O. Dubrule, "Cross validation of kriging in a unique
neighborhood", 1983 (both from memory). tests/reference compares it with published answers.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.special import k0

from slab_core.numerics.grid import Floats

Covariance = Callable[[Floats], Floats]
"""A (generalised) covariance of the distance: minus a variogram will do, as a constant drift cancels."""

Drift = Callable[[Floats], Floats]
"""Columns (n, m) of the functions with unknown factors at places (n, 2)."""


def constant(at: Floats) -> Floats:
    """The drift of ordinary kriging."""
    return np.ones((len(at), 1))


def plane(at: Floats) -> Floats:
    """A height and two slopes."""
    return np.column_stack([np.ones(len(at)), at])


def exponential(*, sill: float, practical_range: float) -> Covariance:
    """Minus the variogram that comes to 95 % of its sill at the practical range."""
    return lambda distance: -sill * (1.0 - np.exp(-3.0 * distance / practical_range))


def linear(*, slope: float, nugget: float) -> Covariance:
    """Minus a straight variogram; the nugget counts at every distance but 0."""
    return lambda distance: np.where(distance > 0.0, -nugget - slope * distance, 0.0)


def thin_plate(*, scale: float) -> Covariance:
    """Green's function of the squared Laplacian in the plane, r² ln r / 8π, times `scale`."""

    def value(distance: Floats) -> Floats:
        squared = np.square(distance)
        return scale / (16.0 * np.pi) * squared * np.log(np.where(squared > 0.0, squared, 1.0))

    return value


def damped_plate(*, scale: float, change_m2: float) -> Covariance:
    """Covariance of the spectrum `scale` / (k⁴ (1 + c k²)), c = `change_m2`, up to a quadratic polynomial.

    1 / (k⁴ (1 + c k²)) = 1/k⁴ - c/k² + c² / (1 + c k²), of which the transforms are r² ln r / 8π,
    c ln r / 2π and c K0(r / √c) / 2π.
    """
    reach, plate = np.sqrt(change_m2), thin_plate(scale=scale)

    def value(distance: Floats) -> Floats:
        apart = np.where(distance > 0.0, distance, 1.0)
        near = np.where(distance > 0.0, np.log(apart) + k0(apart / reach), np.log(2 * reach) - np.euler_gamma)
        return plate(distance) + scale * change_m2 / (2.0 * np.pi) * near

    return value


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sums:
    """n weighted sums of k heights each: `place` (n, k, 2), `weight` (n, k). One place each for k = 1."""

    place: Floats
    weight: Floats

    def between(self, other: "Sums", covariance: Covariance) -> Floats:
        """Covariances with the other's sums, shape (n, m)."""
        apart = self.place[:, :, None, None, :] - other.place[None, None, :, :, :]
        return np.einsum(
            "ik,jl,ikjl->ij", self.weight, other.weight, covariance(np.linalg.norm(apart, axis=-1))
        )

    def drift(self, functions: Drift) -> Floats:
        """The drift's columns of every sum, shape (n, m)."""
        n, k, _ = self.place.shape
        return np.einsum("ik,ikm->im", self.weight, functions(self.place.reshape(n * k, 2)).reshape(n, k, -1))


def heights(x: Floats, y: Floats) -> Sums:
    """Single heights at n places."""
    return Sums(place=np.column_stack([x, y])[:, None, :], weight=np.ones((len(x), 1)))


def krige(
    *, seen: Sums, value: Floats, noise: Floats, wanted: Sums, covariance: Covariance, drift: Drift
) -> tuple[Floats, Floats]:
    """Best linear unbiased prediction at `wanted` and its variance; `noise` is each value's variance."""
    bordered = _bordered(seen, noise, covariance, drift)
    right = np.vstack([seen.between(wanted, covariance), wanted.drift(drift).T])
    weights = np.linalg.solve(bordered, right)
    own = np.array([_own(wanted, i, covariance) for i in range(len(wanted.weight))])
    return value @ weights[: len(value)], own - np.sum(weights * right, axis=0)


def leave_one_out(
    *, seen: Sums, value: Floats, noise: Floats, covariance: Covariance, drift: Drift
) -> tuple[Floats, Floats]:
    """Each value less its prediction from all others, and that difference's variance."""
    bordered = _bordered(seen, noise, covariance, drift)
    inverse = np.linalg.inv(bordered)[: len(value), : len(value)]
    variance = 1.0 / np.diag(inverse)
    return inverse @ value * variance, variance


def _own(sums: Sums, i: int, covariance: Covariance) -> float:
    one = Sums(place=sums.place[i : i + 1], weight=sums.weight[i : i + 1])
    return float(one.between(one, covariance)[0, 0])


def _bordered(seen: Sums, noise: Floats, covariance: Covariance, drift: Drift) -> Floats:
    columns = seen.drift(drift)
    matrix = seen.between(seen, covariance) + np.diag(noise)
    empty = np.zeros((columns.shape[1],) * 2)
    return np.block([[matrix, columns], [columns.T, empty]])

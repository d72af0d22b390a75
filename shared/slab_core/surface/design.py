"""The normal equations of weighted linear observations of one spline."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from slab_core.numerics.grid import Floats
from slab_core.numerics.kernel import kernel, summing_kernel
from slab_core.surface.basis import Basis, sixteen, turned
from slab_core.surface.energy import roughness_band
from slab_core.surface.joints import columns
from slab_core.surface.model import SplineJoint


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Design:
    """Observations of a spline whose short axis runs fastest, so that the band is narrow.

    An observation of one place stays inside the band. One that couples several places (a gap: both
    ends of the edge and the place between) would not, and is kept as a dense column of `coupled`,
    shape (coefficients, k), to be added to the factor as an update of low rank. `beside`, shape
    (n, m), holds the observations of what the `joints` add to the spline, and in its last `shared`
    columns the errors that readings share, which are no part of the floor.
    """

    basis: Basis
    swapped: bool
    energy: Floats
    single: NDArray[np.int64]
    first: NDArray[np.int64]
    values: Floats
    coupled_rows: NDArray[np.int64]
    coupled: Floats
    joints: tuple[SplineJoint, ...]
    beside: Floats
    shared: int

    @property
    def count(self) -> int:
        """How many observations there are."""
        return len(self.single) + len(self.coupled_rows)


def design(
    *,
    basis: Basis,
    x_m: Floats,
    y_m: Floats,
    weight: Floats,
    joints: tuple[SplineJoint, ...] = (),
    shared_m: Floats | None = None,
    bending_change_m2: float = 0.0,
) -> Design:
    """The design of n observations; x_m, y_m, weight, shape (n, 3), and shared_m as in Observations."""
    beside = _beside(joints=joints, x_m=x_m, y_m=y_m, weight=weight)
    shared = 0 if shared_m is None else shared_m.shape[1]
    if shared_m is not None and shared:
        beside = np.hstack([beside, shared_m])
    swapped = basis.cells_x > basis.cells_y
    if swapped:
        basis, x_m, y_m = turned(basis), y_m, x_m
    is_coupled = (weight[:, 1:] != 0.0).any(axis=1)
    single, rows = np.flatnonzero(~is_coupled), np.flatnonzero(is_coupled)
    first, values = sixteen(basis=basis, x_m=x_m[single, 0], y_m=y_m[single, 0])
    return Design(
        basis=basis,
        swapped=swapped,
        energy=roughness_band(basis=basis, change_m2=bending_change_m2),
        single=single,
        first=first,
        values=values * weight[single, 0][:, None, None],
        coupled_rows=rows,
        coupled=_columns(basis=basis, x_m=x_m[rows], y_m=y_m[rows], weight=weight[rows]),
        joints=joints,
        beside=beside,
        shared=shared,
    )


def _beside(*, joints: tuple[SplineJoint, ...], x_m: Floats, y_m: Floats, weight: Floats) -> Floats:
    out = columns(joints=joints, x_m=x_m[:, 0], y_m=y_m[:, 0]) * weight[:, 0][:, None]
    for place in range(1, weight.shape[1]):
        at = np.flatnonzero(weight[:, place])
        if joints and len(at):
            out[at] += weight[at, place][:, None] * columns(
                joints=joints, x_m=x_m[at, place], y_m=y_m[at, place]
            )
    return out


def _columns(*, basis: Basis, x_m: Floats, y_m: Floats, weight: Floats) -> Floats:
    ny, nx = basis.shape
    columns = np.zeros((ny * nx, len(weight)))
    for place in range(weight.shape[1]):
        first, values = sixteen(basis=basis, x_m=x_m[:, place], y_m=y_m[:, place])
        for k in range(len(weight)):
            block = columns[:, k].reshape(ny, nx)
            i, j = first[k]
            block[j : j + 4, i : i + 4] += weight[k, place] * values[k]
    return columns


def normal_equations(*, design: Design, precision: Floats, value_m: Floats) -> tuple[Floats, Floats]:
    """Bᵀ W B of the observations of one place as a band, and Bᵀ W z of all of them, shape (coefficients,)."""
    ny, nx = design.basis.shape
    band = np.zeros((ny * nx, 3 * nx + 4))
    right = np.zeros(ny * nx)
    own = precision[design.single]
    _accumulate(design.first, design.values, own, own * value_m[design.single], nx, band, right)
    rows = design.coupled_rows
    right += design.coupled @ (precision[rows] * value_m[rows])
    return band, right


@summing_kernel
def _accumulate(
    first: NDArray[np.int64],
    values: Floats,
    precision: Floats,
    weighted: Floats,
    nx: int,
    band: Floats,
    right: Floats,
) -> None:
    for i in range(len(precision)):
        origin = first[i, 1] * nx + first[i, 0]
        for a in range(4):
            for b in range(4):
                at, own = origin + a * nx + b, values[i, a, b]
                right[at] += own * weighted[i]
                scaled, row = own * precision[i], band[at]
                for d in range(b, 4):
                    row[d - b] += scaled * values[i, a, d]
                for c in range(a + 1, 4):
                    part = row[(c - a) * nx - b : (c - a) * nx - b + 4]
                    for d in range(4):
                        part[d] += scaled * values[i, c, d]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Border:
    """What `beside` adds to the normal equations, before any prior: Bᵀ W X, Xᵀ W X and Xᵀ W z."""

    cross: Floats
    own: Floats
    right: Floats


def border(*, design: Design, precision: Floats, value_m: Floats) -> Border:
    """The border for the design's columns `beside`, shape (n, m)."""
    ny, nx = design.basis.shape
    weighted = precision[:, None] * design.beside
    cross = np.zeros((design.beside.shape[1], ny * nx))
    _scatter(design.first, design.values, weighted[design.single], nx, cross)
    cross += (design.coupled @ weighted[design.coupled_rows]).T
    return Border(cross=cross.T, own=design.beside.T @ weighted, right=weighted.T @ value_m)


@kernel
def _scatter(first: NDArray[np.int64], values: Floats, weighted: Floats, nx: int, out: Floats) -> None:
    for i in range(len(weighted)):
        origin = first[i, 1] * nx + first[i, 0]
        for k in range(weighted.shape[1]):
            for a in range(4):
                row = out[k, origin + a * nx : origin + a * nx + 4]
                for b in range(4):
                    row[b] += values[i, a, b] * weighted[i, k]


def predicted(*, design: Design, coefficients: Floats) -> Floats:
    """What the spline, without its joints, says of every observation, shape (n,)."""
    out = np.empty(design.count)
    out[design.single] = place_values(design.first, design.values, coefficients, design.basis.shape[1])
    out[design.coupled_rows] = coefficients @ design.coupled
    return out


@kernel
def place_values(first: NDArray[np.int64], values: Floats, coefficients: Floats, nx: int) -> Floats:
    """Sums of sixteen values times their coefficients, shape (n,)."""
    out = np.zeros(len(first))
    for i in range(len(first)):
        origin = first[i, 1] * nx + first[i, 0]
        for a in range(4):
            for b in range(4):
                out[i] += values[i, a, b] * coefficients[origin + a * nx + b]
    return out

"""The normal equations of weighted linear observations of one spline."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from slab_core.numerics.grid import Floats
from slab_core.numerics.kernel import kernel
from slab_core.surface.basis import Basis, sixteen, turned
from slab_core.surface.energy import energy_band


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Design:
    """Observations of a spline whose short axis runs fastest, so that the band is narrow.

    An observation of one place stays inside the band. One that couples several places (a gap: both
    ends of the edge and the place between) would not, and is kept as a dense column of `coupled`,
    shape (coefficients, k), to be added to the factor as an update of low rank.
    """

    basis: Basis
    swapped: bool
    energy: Floats
    single: NDArray[np.int64]
    first: NDArray[np.int64]
    values: Floats
    coupled_rows: NDArray[np.int64]
    coupled: Floats

    @property
    def count(self) -> int:
        """How many observations there are."""
        return len(self.single) + len(self.coupled_rows)


def design(*, basis: Basis, x_m: Floats, y_m: Floats, weight: Floats) -> Design:
    """The design of n observations; `x_m`, `y_m`, `weight` have the shape (n, 3) as in Observations."""
    swapped = basis.cells_x > basis.cells_y
    if swapped:
        basis, x_m, y_m = turned(basis), y_m, x_m
    is_coupled = (weight[:, 1:] != 0.0).any(axis=1)
    single, rows = np.flatnonzero(~is_coupled), np.flatnonzero(is_coupled)
    first, values = sixteen(basis=basis, x_m=x_m[single, 0], y_m=y_m[single, 0])
    return Design(
        basis=basis,
        swapped=swapped,
        energy=energy_band(basis=basis),
        single=single,
        first=first,
        values=values * weight[single, 0][:, None, None],
        coupled_rows=rows,
        coupled=_columns(basis=basis, x_m=x_m[rows], y_m=y_m[rows], weight=weight[rows]),
    )


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


@kernel
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
        for p in range(16):
            at_p = origin + (p // 4) * nx + p % 4
            value_p = values[i, p // 4, p % 4]
            right[at_p] += value_p * weighted[i]
            scaled = value_p * precision[i]
            for q in range(p, 16):
                at_q = origin + (q // 4) * nx + q % 4
                band[at_p, at_q - at_p] += scaled * values[i, q // 4, q % 4]


def predicted(*, design: Design, coefficients: Floats) -> Floats:
    """What the spline says of every observation, shape (n,)."""
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

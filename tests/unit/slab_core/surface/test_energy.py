"""The energies against integrals known by hand."""

import numpy as np
import pytest

from slab_core.numerics.grid import Floats
from slab_core.surface.basis import Basis, axis_matrix, basis_over
from slab_core.surface.energy import BENDING_CHANGE, energy_band, roughness_band


def _dense(band: Floats) -> Floats:
    n = len(band)
    dense = np.zeros((n, n))
    for c in range(n):
        for d in range(min(band.shape[1], n - c)):
            dense[c + d, c] = dense[c, c + d] = band[c, d]
    return dense


def _coefficients(basis: Basis, kind: str) -> Floats:
    xs = basis.x0_m + np.linspace(0, basis.cells_x * basis.step_m, 4 * basis.cells_x)
    ys = basis.y0_m + np.linspace(0, basis.cells_y * basis.step_m, 4 * basis.cells_y)
    in_x = axis_matrix(start_m=basis.x0_m, step_m=basis.step_m, cells=basis.cells_x, at_m=xs)
    in_y = axis_matrix(start_m=basis.y0_m, step_m=basis.step_m, cells=basis.cells_y, at_m=ys)
    x, y = np.meshgrid(xs, ys)
    z = {"plane": 1 + 2 * x - y, "x2": x**2, "y2": y**2, "xy": x * y, "x3": x**3, "x2y": x**2 * y}[kind]
    return np.asarray(np.linalg.lstsq(np.kron(in_y, in_x), z.ravel(), rcond=None)[0])


@pytest.mark.parametrize(
    ("kind", "energy"),
    # Over 2 × 1.5 m: ∫ (2)² = 12, ∫ 2·1² = 6, ∫∫ (6x)² = 36·(2³/3)·1.5 = 144.
    [("plane", 0.0), ("x2", 12.0), ("y2", 12.0), ("xy", 6.0), ("x3", 144.0)],
)
def test_polynomials_have_their_exact_bending_energy(kind: str, energy: float) -> None:
    basis = basis_over(low=(0.0, 0.0), high=(2.0, 1.5), step_m=0.5)
    coefficients = _coefficients(basis, kind)
    dense = _dense(energy_band(basis=basis))
    assert coefficients @ dense @ coefficients == pytest.approx(energy, abs=1e-9)


@pytest.mark.parametrize(
    ("kind", "energy"),
    # Over 2 × 1.5 m: ∫ 6² = 108, ∫ 3·2² = 36; what bends everywhere alike does not change.
    [("plane", 0.0), ("x2", 0.0), ("xy", 0.0), ("x3", 108.0), ("x2y", 36.0)],
)
def test_polynomials_have_their_exact_change_of_bending(kind: str, energy: float) -> None:
    basis = basis_over(low=(0.0, 0.0), high=(2.0, 1.5), step_m=0.5)
    coefficients = _coefficients(basis, kind)
    dense = _dense(energy_band(basis=basis, terms=BENDING_CHANGE))
    assert coefficients @ dense @ coefficients == pytest.approx(energy, abs=1e-8)


def test_the_roughness_is_the_bending_and_a_share_of_its_change() -> None:
    basis = basis_over(low=(0.0, 0.0), high=(2.0, 1.5), step_m=0.5)
    both = energy_band(basis=basis) + 0.2 * energy_band(basis=basis, terms=BENDING_CHANGE)
    np.testing.assert_allclose(roughness_band(basis=basis, change_m2=0.2), both, atol=1e-9)


def test_only_planes_cost_nothing() -> None:
    values = np.linalg.eigvalsh(_dense(energy_band(basis=basis_over(low=(0, 0), high=(3, 2), step_m=0.5))))
    assert (np.abs(values[:3]) < 1e-10).all()
    assert values[3] > 1e-4

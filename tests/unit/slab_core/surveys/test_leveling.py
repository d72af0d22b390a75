"""Least squares of level networks against an independent solver, and the test statistics against scipy."""

import numpy as np
import pytest
import scipy.optimize
import scipy.stats
from hypothesis import given, settings
from hypothesis import strategies as st

from slab_core.surveys.agreement import (
    ALLOWED_SD,
    DOUBTED_BELOW,
    DOUBTED_SD,
    REFUSED_BELOW,
    chi_square_beyond,
    largest_beyond,
)
from slab_core.surveys.leveling import Adjusted, Difference, Node, adjust_differences, components


def node(number: int) -> Node:
    return ("point", str(number))


def network(seed: int) -> tuple[tuple[Difference, ...], dict[Node, float]]:
    """A random connected network of 8 points with redundant differences; points 0 and 1 are known."""
    random = np.random.default_rng(seed)
    height = random.normal(100.0, 2.0, 8)
    pairs = [(k, int(random.integers(0, k))) for k in range(1, 8)]
    pairs += [(a, b) for a, b in random.integers(0, 8, (12, 2)).tolist() if a != b]
    differences = []
    for a, b in pairs:
        sd = float(random.uniform(0.0003, 0.002))
        value = float(height[a] - height[b] + random.normal(0, sd))
        differences.append(Difference(upper=node(a), lower=node(b), value_m=value, sd_m=sd))
    differences.append(Difference(upper=node(3), lower=None, value_m=float(height[3]), sd_m=0.001))
    return tuple(differences), {node(0): float(height[0]), node(1): float(height[1])}


def residuals(heights: dict[Node, float], differences: tuple[Difference, ...]) -> np.ndarray:
    return np.array(
        [d.value_m - heights[d.upper] + (heights[d.lower] if d.lower else 0.0) for d in differences]
    )


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000))
def test_the_adjustment_is_that_of_an_independent_solver(seed: int) -> None:
    differences, known = network(seed)
    unknown = [node(k) for k in range(2, 8)]
    sd = np.array([d.sd_m for d in differences])

    def weighted(x: np.ndarray) -> np.ndarray:
        return residuals({**known, **dict(zip(unknown, x.tolist(), strict=True))}, differences) / sd

    peer = scipy.optimize.least_squares(weighted, np.full(6, 100.0), method="lm", xtol=1e-15, ftol=1e-15)
    covariance = np.linalg.inv(peer.jac.T @ peer.jac)
    adjusted = adjust_differences(differences=differences, known=known)
    assert [adjusted.height_m[n] for n in unknown] == pytest.approx(peer.x.tolist(), abs=1e-9)
    assert [adjusted.sd_m[n] for n in unknown] == pytest.approx(
        np.sqrt(np.diag(covariance)).tolist(), rel=1e-4
    )
    assert adjusted.residual_m == pytest.approx(residuals(adjusted.height_m, differences), abs=1e-12)
    # The redundancy numbers of an adjustment add up to its degrees of freedom.
    assert float(adjusted.redundancy.sum()) == pytest.approx(adjusted.degrees_of_freedom)


def test_a_closed_loop_spreads_its_misclosure_evenly_over_equal_sights() -> None:
    # Up 1.000, up 0.500, back down 1.503: 3 mm too much, so each leg takes 1 mm.
    legs = (("1", "0", 1.0), ("2", "1", 0.5), ("0", "2", -1.503))
    differences = tuple(
        Difference(upper=("point", up), lower=("point", low), value_m=value, sd_m=0.001)
        for up, low, value in legs
    )
    adjusted = adjust_differences(differences=differences, known={("point", "0"): 10.0})
    assert adjusted.height_m[("point", "1")] == pytest.approx(11.001, abs=1e-12)
    assert adjusted.height_m[("point", "2")] == pytest.approx(11.502, abs=1e-12)
    assert adjusted.residual_m == pytest.approx([-0.001] * 3, abs=1e-12)
    assert adjusted.redundancy == pytest.approx([1 / 3] * 3)
    assert adjusted.degrees_of_freedom == 1


def test_unequal_accuracy_gives_the_weighted_mean() -> None:
    two = (
        Difference(upper=("point", "p"), lower=None, value_m=1.000, sd_m=0.001),
        Difference(upper=("point", "p"), lower=None, value_m=1.010, sd_m=0.003),
    )
    adjusted: Adjusted = adjust_differences(differences=two, known={})
    assert adjusted.height_m[("point", "p")] == pytest.approx((1.0 * 9 + 1.01 * 1) / 10)
    assert adjusted.sd_m[("point", "p")] == pytest.approx(0.001 * np.sqrt(0.9))


def test_components_are_found_whatever_the_order_of_the_links() -> None:
    found = components(links=[(node(1), node(2)), (node(3), node(4)), (node(5), node(5)), (node(4), node(2))])
    assert found == [{node(1), node(2), node(3), node(4)}, {node(5)}]


@pytest.mark.parametrize("k", [1, 2, 3, 4, 7, 10, 31, 200])
@pytest.mark.parametrize("share", [0.1, 0.9, 0.999, 0.999999])
def test_chi_square_beyond_is_that_of_scipy(k: int, share: float) -> None:
    value = float(scipy.stats.chi2.ppf(share, k))
    assert chi_square_beyond(value=value, degrees_of_freedom=k) == pytest.approx(1 - share, rel=1e-8)


def test_the_limits_for_one_residual_are_two_sided_points_of_the_normal_distribution() -> None:
    assert pytest.approx(float(scipy.stats.norm.ppf(0.9995)), abs=1e-6) == ALLOWED_SD
    assert pytest.approx(float(scipy.stats.norm.ppf(0.995)), abs=1e-6) == DOUBTED_SD
    assert largest_beyond(normalised=ALLOWED_SD + 1e-6, count=1) < REFUSED_BELOW
    assert largest_beyond(normalised=ALLOWED_SD - 1e-6, count=1) > REFUSED_BELOW
    assert largest_beyond(normalised=ALLOWED_SD + 0.1, count=20) > REFUSED_BELOW
    assert largest_beyond(normalised=DOUBTED_SD + 1e-6, count=1) < DOUBTED_BELOW
    assert chi_square_beyond(value=0.0, degrees_of_freedom=3) == 1.0


def test_the_level_net_of_a_textbook_adjusts_to_its_printed_heights_and_closure() -> None:
    # C. D. Ghilani and P. R. Wolf, Adjustment Computations, 4th ed. (2006), example 12.1: A is held at
    # 437.596 m; printed are B, C, D to 0.1 mm, and 1.26976 as the weighted sum of squares of residuals
    # that are rounded to 0.1 mm, which moves the sum by up to 2·Σ|v|/sd²·0.05 mm = 0.04.
    legs = (
        ("B", "A", 10.509, 0.006),
        ("C", "B", 5.360, 0.004),
        ("D", "C", -8.523, 0.005),
        ("A", "D", -7.348, 0.003),
        ("D", "B", -3.167, 0.004),
        ("C", "A", 15.881, 0.012),
    )
    differences = tuple(
        Difference(upper=("point", up), lower=("point", low), value_m=value, sd_m=sd)
        for up, low, value, sd in legs
    )
    adjusted = adjust_differences(differences=differences, known={("point", "A"): 437.596})
    found = [adjusted.height_m[("point", name)] for name in "BCD"]
    assert found == pytest.approx([448.1087, 453.4685, 444.9436], abs=0.00006)
    sd = np.array([leg[3] for leg in legs])
    assert float(np.sum((adjusted.residual_m / sd) ** 2)) == pytest.approx(1.26976, abs=0.04)
    assert adjusted.degrees_of_freedom == 3
    # Standard deviations and redundancy numbers from the normal equations, written out by hand.
    design = np.array([[1, 0, 0], [-1, 1, 0], [0, -1, 1], [0, 0, -1], [-1, 0, 1], [0, 1, 0]], dtype=float)
    cofactor = np.linalg.inv(design.T @ np.diag(sd**-2) @ design)
    assert [adjusted.sd_m[("point", name)] for name in "BCD"] == pytest.approx(
        np.sqrt(np.diag(cofactor)).tolist(), rel=1e-9
    )
    hat = design @ cofactor @ design.T @ np.diag(sd**-2)
    assert adjusted.redundancy.tolist() == pytest.approx((1 - np.diag(hat)).tolist(), rel=1e-9)

"""The tests' own kriging against published answers, so that it may judge the surface stage.

Source of the grids: tests/reference/data/README.md.
"""

import json
from pathlib import Path

import numpy as np
import pytest

from tests.support.kriging import Drift, constant, exponential, heights, krige, leave_one_out, linear, plane

ANSWERS = json.loads((Path(__file__).parent / "data/kriging_answers.json").read_text())
WELLS = np.array(ANSWERS["wells"])
MIDDLE, KM = WELLS[:, :2].mean(axis=0), 1000.0


@pytest.mark.parametrize(("name", "drift"), [("constant", constant), ("plane", plane)])
def test_every_published_node_is_met_to_its_last_printed_digit(name: str, drift: Drift) -> None:
    xs, ys = np.meshgrid(ANSWERS["x"], ANSWERS["y"])
    published = np.array(ANSWERS[name])
    mean, _ = krige(
        seen=heights(*((WELLS[:, :2] - MIDDLE) / KM).T),
        value=WELLS[:, 2],
        noise=np.zeros(len(WELLS)),
        wanted=heights((xs.ravel() - MIDDLE[0]) / KM, (ys.ravel() - MIDDLE[1]) / KM),
        covariance=exponential(sill=500.0, practical_range=3000.0 / KM),
        drift=drift,
    )
    half_digit = 0.5 * 10.0 ** (np.floor(np.log10(np.abs(published))) - 7)  # eight digits are printed
    assert (np.abs(mean.reshape(published.shape) - published) <= 1.01 * half_digit).all()


def test_a_textbook_example_has_its_value_and_its_variance() -> None:
    """P. K. Kitanidis, "Introduction to Geostatistics", 1997, example 3.2, as PyKrige's tests quote it."""
    mean, variance = krige(
        seen=heights(np.array([9.7, 43.8]), np.array([47.6, 24.6])),
        value=np.array([1.22, 2.822]),
        noise=np.zeros(2),
        wanted=heights(np.array([18.8]), np.array([67.9])),
        covariance=linear(slope=0.006, nugget=0.1),
        drift=constant,
    )
    assert (mean[0], variance[0]) == pytest.approx((1.6364, 0.4201), abs=5e-5)


def test_leaving_one_out_at_once_equals_kriging_without_it() -> None:
    x, y = ((WELLS[:, :2] - MIDDLE) / KM).T
    noise, covariance = np.full(len(x), 4.0), exponential(sill=500.0, practical_range=3.0)
    away, variance = leave_one_out(
        seen=heights(x, y), value=WELLS[:, 2], noise=noise, covariance=covariance, drift=plane
    )
    for i in range(len(x)):
        others = np.arange(len(x)) != i
        mean, own = krige(
            seen=heights(x[others], y[others]),
            value=WELLS[others, 2],
            noise=noise[others],
            wanted=heights(x[[i]], y[[i]]),
            covariance=covariance,
            drift=plane,
        )
        assert away[i] == pytest.approx(WELLS[i, 2] - mean[0], rel=1e-9, abs=0)
        assert variance[i] == pytest.approx(own[0] + noise[i], rel=1e-9, abs=0)

"""Placing scans by targets, and comparing two scans of one floor."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from slab_core.errors import InputRefused
from slab_core.scans.model import Place, Placement
from slab_core.scans.register import overlap, place_by_targets, placed
from tests.unit.slab_core.scans.scanned import a_slab, reduced, scan

KNOWN: dict[str, Place] = {
    "A": (0.1, 0.2, 1.2),
    "B": (2.9, 0.3, 0.9),
    "C": (1.5, 2.4, 1.6),
    "D": (0.2, 2.2, 0.4),
}


def as_scanned(turn: float, origin: np.ndarray, *, noise_m: float = 0.0) -> dict[str, Place]:
    """The known targets as a scanner sees them that stands turned, at another origin."""
    c, s = np.cos(turn), np.sin(turn)
    places = np.array(list(KNOWN.values())) @ np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]]) + origin
    places += np.random.default_rng(0).normal(0, noise_m, places.shape) if noise_m else 0.0
    return {name: tuple(place) for name, place in zip(KNOWN, places.tolist(), strict=True)}


@given(turn=st.floats(-3.1, 3.1), east=st.floats(-1e6, 1e6), up=st.floats(-500, 500))
def test_targets_without_noise_are_met_to_the_micrometre(turn: float, east: float, up: float) -> None:
    scanned = as_scanned(turn, np.array([east, -2 * east, up]))
    found = place_by_targets(scanned=scanned, known=KNOWN)
    assert max(found.residual_m.values()) < 1e-6
    there = placed(points=np.array(list(scanned.values())), placement=found.placement)
    np.testing.assert_allclose(there, list(KNOWN.values()), atol=1e-6)


def test_noise_is_shared_and_reported_by_target() -> None:
    found = place_by_targets(scanned=as_scanned(1.0, np.zeros(3), noise_m=0.002), known=KNOWN)
    assert set(found.residual_m) == set(KNOWN)
    assert 0.0005 < found.rms_m < 0.004


@pytest.mark.parametrize(
    ("scanned", "code", "words"),
    [
        ({"A": KNOWN["A"], "X": KNOWN["B"]}, "scan-targets-too-few", "1 targets"),
        ({"A": KNOWN["A"], "B": KNOWN["A"]}, "scan-targets-too-few", "direction"),
        ({**KNOWN, "C": (1.5, 2.4, 1.75)}, "scan-targets-disagree", "'C'"),
    ],
)
def test_targets_that_place_nothing_are_refused(scanned: dict[str, Place], code: str, words: str) -> None:
    with pytest.raises(InputRefused) as refused:
        place_by_targets(scanned=scanned, known=KNOWN)
    (problem,) = refused.value.problems
    assert problem.code == code
    assert words in problem.detail


def test_two_scans_placed_by_targets_give_one_floor_and_their_disagreement_is_measured() -> None:
    slab = a_slab()
    points = scan(slab=slab, points=400_000)
    found = place_by_targets(scanned=as_scanned(0.4, np.array([50.0, 60.0, 7.0])), known=KNOWN)
    c, s = np.cos(0.4), np.sin(0.4)
    moved = scan(slab=slab, points=400_000, seed=9) @ np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
    moved += (50.0, 60.0, 7.0)
    first = reduced(slab.floor, points[points[:, 0] < 2.0])
    exact = reduced(slab.floor, moved, placement=found.placement)
    agreed = overlap(first=first, second=exact)
    assert agreed.cells > 7_000
    assert abs(agreed.offset_m) < 5e-5
    x, y, z = found.placement.shift_m
    lifted = Placement(
        origin_m=found.placement.origin_m, turn_rad=found.placement.turn_rad, shift_m=(x, y, z + 0.003)
    )
    raised = overlap(first=first, second=reduced(slab.floor, moved, placement=lifted))
    assert raised.offset_m == pytest.approx(0.003, abs=5e-5)
    assert abs(raised.tilt_x) < 1e-4


def test_scans_that_share_no_floor_cannot_be_compared() -> None:
    slab = a_slab()
    points = scan(slab=slab, points=200_000)
    left, right = (reduced(slab.floor, points[side]) for side in (points[:, 0] < 1.4, points[:, 0] > 1.6))
    with pytest.raises(InputRefused, match="0 cells in common"):
        overlap(first=left, second=right)

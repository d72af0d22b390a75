"""The sliding straightedge against an independent brute force and against values known by hand."""

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from slab_core.numerics.budget import Budget, Stopped
from slab_core.numerics.grid import Floats, Grid
from slab_core.surface.area import nodes_inside
from slab_core.tolerance import straightedge
from slab_core.tolerance.lattice import free_steps
from slab_core.tolerance.model import Rule, RuleKind
from slab_core.tolerance.straightedge import departures, departures_in_short, profile_departures
from tests.slabs import rectangle
from tests.unit.slab_core.tolerance.edges import HOLED, KINDS, WAYS, brute_force

INCH = 0.0254


def _profile(rng: np.random.Generator, *, n: int, kind: int) -> Floats:
    noise = rng.normal(0.0, 0.001, n)
    smooth = np.cumsum(np.cumsum(rng.normal(0.0, 0.0003, n)))
    steps = np.round(rng.normal(0.0, 1.5, n)) * 0.001
    return np.asarray((noise, np.cumsum(noise), smooth, steps)[kind])


def test_500_random_profiles_equal_brute_force_to_a_nanometre(monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(20)
    for case in range(500):
        z = _profile(rng, n=int(rng.integers(2, 33)), kind=case % 4)
        span = float(rng.integers(1, 14)) if case % 3 == 0 else float(rng.uniform(0.4, 16.0))
        for chord in (False, True):
            gap, rise = (brute_force(sign * z, span, chord=chord) for sign in (1.0, -1.0))
            for kind, way in product(KINDS[2:] if chord else KINDS[:2], WAYS):
                monkeypatch.setattr(straightedge, "MOST_STEPS", WAYS[way])
                rule = Rule(length_m=span * 0.05, gap_m=0.001, kind=kind)
                found = profile_departures(heights_m=z, spacing_m=0.05, rule=rule)
                np.testing.assert_allclose(found.gap_m[0], gap, atol=1e-9)
                np.testing.assert_allclose(found.rise_m[0], 0.0 if kind == "gap-only" else rise, atol=1e-9)


def test_long_edges_are_worked_out_alike_by_pairs_and_by_hulls(monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(21)
    for case in range(40):
        z = _profile(rng, n=int(rng.integers(60, 300)), kind=case % 4)
        rule = Rule(length_m=float(rng.uniform(20.0, 90.0)), gap_m=0.001)
        found = []
        for most in (0, 90):
            monkeypatch.setattr(straightedge, "MOST_STEPS", most)
            found.append(profile_departures(heights_m=z, spacing_m=1.0, rule=rule))
        np.testing.assert_allclose(found[0].gap_m, found[1].gap_m, atol=1e-12)
        np.testing.assert_allclose(found[0].rise_m, found[1].rise_m, atol=1e-12)


def _inches(name: str) -> Floats:
    x = np.arange(241.0)
    shapes = {
        "valley": (0.125 / 3600.0) * (x - 120.0) ** 2,
        "hump": -(0.125 / 3600.0) * (x - 120.0) ** 2,
        "wave 120": np.sin(2 * np.pi * x / 120.0) / 16.0,
        "wave 240": np.sin(2 * np.pi * x / 240.0) / 16.0,
        "dip": -np.maximum(0.0, 0.25 * (1.0 - np.abs(x - 120.0) / 24.0)),
        "bump": np.maximum(0.0, 0.25 * (1.0 - np.abs(x - 120.0) / 24.0)),
        "ramp": x / 37.0,
    }
    return np.asarray(shapes[name])


# Computed for the reference facts of the project: 1 in sampling, 240 in long, inches; gap is the upper
# convex hull of the window less the floor.
VECTORS = [
    ("valley", 0.125, 0.045, 0.125),
    ("hump", 0.0, 0.0, 0.125),
    ("wave 120", 0.125, 0.081814, None),
    ("wave 240", 0.0625, 0.025763, None),
    ("dip", 0.250, 0.250, 0.250),
    ("bump", 0.200, 0.166667, 0.250),
    ("ramp", 0.0, 0.0, 0.0),
]


@pytest.mark.parametrize(("name", "ten_ft", "six_ft", "chord"), VECTORS)
def test_known_profiles_have_their_known_gaps(
    name: str, ten_ft: float, six_ft: float, chord: float | None
) -> None:
    z = np.asarray(_inches(name) * INCH)
    for length_ft, gap in ((10.0, ten_ft), (6.0, six_ft)):
        rule = Rule(length_m=length_ft * 12 * INCH, gap_m=0.001, kind="gap-only")
        found = profile_departures(heights_m=z, spacing_m=INCH, rule=rule).gap_m.max()
        # The vectors are printed to six decimals of an inch; those that are exact numbers hold to 1e-9 m.
        exact = gap == round(gap, 4)
        assert found == pytest.approx(gap * INCH, abs=1e-9 if exact else 0.6e-6 * INCH)
    if chord is not None:
        rule = Rule(length_m=120 * INCH, gap_m=0.001, kind="chord")
        found = profile_departures(heights_m=z, spacing_m=INCH, rule=rule).larger_m().max()
        assert found == pytest.approx(chord * INCH, abs=1e-9)


def test_a_crown_on_which_the_edge_rocks_counts_both_ways_but_shows_no_gap() -> None:
    z = np.asarray(_inches("hump") * INCH)
    both = profile_departures(heights_m=z, spacing_m=INCH, rule=Rule(length_m=120 * INCH, gap_m=0.001))
    assert both.gap_m.max() == pytest.approx(0.0, abs=1e-12)
    assert both.rise_m.max() == pytest.approx(0.125 * INCH, abs=1e-9)


def test_an_edge_that_is_no_whole_number_of_steps_is_as_long_as_it_says() -> None:
    # z = a·x² over samples 0.07 m apart, edge 1.0 m: an edge from sample i ends between two samples,
    # where the interpolated height is a(x² + u(s - u)), u from the last sample; the gap at x of the
    # chord from p to e is then a(x - p)(e - x) plus the end's excess times (x - p)/(e - p).
    s, length, a = 0.07, 1.0, 0.004
    z = a * (s * np.arange(60)) ** 2
    found = profile_departures(heights_m=z, spacing_m=s, rule=Rule(length_m=length, gap_m=0.001)).gap_m[0]
    u = length - 14 * s
    excess = a * u * (s - u)
    at = s * np.arange(1, 15)
    largest = (a * at * (length - at) + excess * at / length).max()
    assert found.max() == pytest.approx(largest, abs=1e-12)
    shorter = profile_departures(heights_m=z, spacing_m=s, rule=Rule(length_m=14 * s, gap_m=0.001))
    assert found.max() > shorter.gap_m.max() + 1e-6


@given(
    tilt=st.tuples(st.floats(-0.02, 0.02), st.floats(-0.02, 0.02)),
    base=st.floats(-10.0, 10.0),
    length=st.floats(0.2, 4.0),
)
@settings(max_examples=30, deadline=None)
def test_a_tilted_plane_never_departs(tilt: tuple[float, float], base: float, length: float) -> None:
    grid = Grid(x0_m=0.0, y0_m=0.0, step_m=0.1, nx=14, ny=12)
    inside = nodes_inside(floor=HOLED, grid=grid)
    xs, ys = np.meshgrid(grid.xs(), grid.ys())
    free = free_steps(floor=HOLED, grid=grid, inside=inside)
    found = departures(
        grid=grid,
        heights_m=base + tilt[0] * xs + tilt[1] * ys,
        free=free,
        rule=Rule(length_m=length, gap_m=0.001),
        budget=Budget(),
    )
    assert found.larger_m().max() < 1e-12


@given(seed=st.integers(0, 10_000), short=st.floats(0.2, 1.0), more=st.floats(0.0, 1.0))
@settings(max_examples=30, deadline=None)
def test_turning_the_floor_upside_down_exchanges_gap_and_rise(seed: int, short: float, more: float) -> None:
    z = np.random.default_rng(seed).normal(0.0, 0.001, 40)
    rule = Rule(length_m=short + more, gap_m=0.001)
    up = profile_departures(heights_m=z, spacing_m=0.1, rule=rule)
    down = profile_departures(heights_m=-z[::-1], spacing_m=0.1, rule=rule)
    np.testing.assert_allclose(up.gap_m[0], down.rise_m[0][::-1], atol=1e-15)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("length_m", [0.6, 3.0])
def test_in_32_bits_a_floor_far_from_height_0_departs_as_much_to_a_hundred_thousandth_of_a_millimetre(
    kind: RuleKind, length_m: float
) -> None:
    grid = Grid(x0_m=0.0, y0_m=0.0, step_m=0.1, nx=31, ny=21)
    free = free_steps(floor=rectangle(3.0, 2.0), grid=grid, inside=np.ones((21, 31), dtype=np.bool_))
    heights = 40.0 + np.random.default_rng(4).normal(0.0, 0.01, (21, 31))
    rule = Rule(length_m=length_m, gap_m=0.003, kind=kind)
    exact = departures(grid=grid, heights_m=heights, free=free, rule=rule, budget=Budget())
    gap, rise = departures_in_short(grid=grid, heights_m=heights, free=free, rule=rule, budget=Budget())
    assert gap.max() > 0.005
    assert np.abs(gap - exact.gap_m).max() < 1e-8
    assert np.abs(rise - exact.rise_m).max() < 1e-8


def test_a_cancelled_check_stops() -> None:
    grid = Grid(x0_m=0.0, y0_m=0.0, step_m=0.1, nx=3, ny=3)
    free = np.zeros((16, 3, 3), dtype=np.bool_)
    stopped = Budget(stop=lambda: True)
    with pytest.raises(Stopped):
        departures(
            grid=grid, heights_m=np.zeros((3, 3)), free=free, rule=Rule(length_m=1, gap_m=1), budget=stopped
        )

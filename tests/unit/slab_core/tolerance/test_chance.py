"""The chance that a floor keeps a rule, on floors whose truth is known."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from slab_core.numerics.budget import Budget, Stopped
from slab_core.numerics.grid import to_metres
from slab_core.surface.fit import fit_surface
from slab_core.surface.model import Surface, SurfaceOptions
from slab_core.tolerance.chance import FAIL_AT, PASS_AT, with_chances
from slab_core.tolerance.check import check_heights
from slab_core.tolerance.edge import placing_sd_m, sag_m
from slab_core.tolerance.model import Chance, Rule, RuleReport
from tests.real_slabs import RealSlab, read_by_crew, real_slab
from tests.slabs import Slab

FOOT, INCH = 0.3048, 0.0254


def _flatter(real: RealSlab, share: float) -> RealSlab:
    whole = real.slab.height
    height = lambda x, y: share * whole(x, y)  # noqa: E731  # a height is a plain function of x and y
    return replace(real, slab=Slab(floor=real.slab.floor, height=height))


@cache
def _measured(seed: int, *, share: float = 0.5, count: int = 120) -> tuple[RealSlab, Surface]:
    rng = np.random.default_rng(seed)
    real = _flatter(real_slab(rng=rng), share)
    readings = read_by_crew(real=real, count=count, rng=rng)
    surface = fit_surface(
        floor=real.slab.floor,
        observations=readings,
        options=SurfaceOptions(grid_step_m=0.1),
        budget=Budget(),
    )
    return real, surface


def _fitted(real: RealSlab, surface: Surface, rule: Rule) -> RuleReport:
    (found,) = check_heights(
        floor=real.slab.floor,
        grid=surface.grid,
        heights_m=to_metres(surface.height),
        inside=surface.inside,
        rules=(rule,),
    )
    return found


def _truly(real: RealSlab, surface: Surface, rule: Rule) -> RuleReport:
    xs, ys = np.meshgrid(surface.grid.xs(), surface.grid.ys())
    (found,) = check_heights(
        floor=real.slab.floor,
        grid=surface.grid,
        heights_m=real.slab.height(xs, ys),
        inside=surface.inside,
        rules=(rule,),
    )
    return found


def _chance(seed: int, *, gap_share: float, length_m: float = 10 * FOOT, share: float = 0.5) -> Chance:
    """For a rule whose gap is so many times the fitted surface's largest departure."""
    real, surface = _measured(seed, share=share)
    fitted = _fitted(real, surface, Rule(length_m=length_m, gap_m=1.0))
    rule = Rule(length_m=length_m, gap_m=gap_share * fitted.largest_m)
    (found,) = with_chances(
        floor=real.slab.floor,
        surface=surface,
        reports=(_fitted(real, surface, rule),),
        budget=Budget(),
    )
    assert found.chance is not None
    return found.chance


def test_the_chance_grows_with_the_gap_through_all_three_answers() -> None:
    found = [_chance(1, gap_share=gap) for gap in (0.1, 0.8, 1.0, 1.2, 1.5, 2.0, 8.0)]
    chances = [each.probability for each in found]
    assert chances == sorted(chances)
    assert (chances[0], chances[-1]) == (0.0, 1.0)
    assert {each.verdict for each in found} == {"pass", "fail", "measure-more"}
    for each in found:
        expected = "pass" if each.probability >= PASS_AT else "measure-more"
        assert each.verdict == ("fail" if each.probability <= FAIL_AT else expected)


def test_plain_answers_need_no_draws_and_close_ones_the_same_every_time() -> None:
    assert _chance(1, gap_share=0.05, share=1.0).draws == _chance(1, gap_share=8.0).draws == 0
    close = _chance(1, gap_share=1.2)
    assert close.draws == 48
    assert close == _chance(1, gap_share=1.2)
    assert close.largest_low_m < close.largest_high_m


def test_places_are_where_the_draws_fail_with_two_walls_each() -> None:
    found = _chance(1, gap_share=1.0)
    assert found.places
    assert found.places[0].failing == max(place.failing for place in found.places)
    for place in found.places:
        assert 0.0 < place.failing <= 1.0
        assert len(place.walls) == 2


def test_a_rule_that_no_draw_breaks_and_yet_stays_open_names_where_draws_depart_most() -> None:
    open_ones = [_chance(seed, gap_share=1.6) for seed in range(1, 9)]
    unbroken = [c for c in open_ones if c.verdict == "measure-more" and not any(p.failing for p in c.places)]
    assert unbroken, "some are left open by what draws do not show"
    assert all(each.places for each in unbroken)


def test_of_floors_given_three_in_four_about_that_share_truly_passes() -> None:
    # Seeds that the amounts in chance.py were not set on; the limits give the gap with that chance.
    rng = np.random.default_rng(7)
    passed = []
    for seed in range(5000, 5040):
        share = float(rng.choice([1.0, 0.5, 0.25]))
        chance = _chance(seed, gap_share=1.2, length_m=6 * FOOT, share=share)
        low, high = np.log([chance.largest_low_m, chance.largest_high_m])
        gap = np.exp((low + high) / 2 + 0.6745 * (high - low) / (2 * 1.645))
        real, surface = _measured(seed, share=share)
        passed.append(_truly(real, surface, Rule(length_m=6 * FOOT, gap_m=1.0)).largest_m <= gap)
    # Three standard deviations of 40 tries to either side would be 0.21.
    assert np.mean(passed) == pytest.approx(0.75, abs=0.15)


def test_a_cancelled_check_stops_between_draws() -> None:
    real, surface = _measured(1)
    fitted = _fitted(real, surface, Rule(length_m=10 * FOOT, gap_m=1.0))
    rule = Rule(length_m=10 * FOOT, gap_m=fitted.largest_m)
    with pytest.raises(Stopped):
        with_chances(
            floor=real.slab.floor,
            surface=surface,
            reports=(_fitted(real, surface, rule),),
            budget=Budget(stop=lambda: True),
        )


@pytest.mark.parametrize(
    ("feet", "inches", "within"),
    # Beam theory for a 2 x 4 x 1/8 in aluminium box on its ends, from memory.
    [(6, 0.002, 0.0005), (10, 0.013, 0.0005), (20, 0.20, 0.005)],
)
def test_a_real_edge_sags_as_beam_theory_says(feet: float, inches: float, within: float) -> None:
    assert sag_m(feet * FOOT) / INCH == pytest.approx(inches, abs=within)


def test_only_edges_that_are_laid_add_their_placing() -> None:
    assert placing_sd_m(10 * FOOT) == pytest.approx(sag_m(10 * FOOT) / np.sqrt(12.0))
    assert placing_sd_m(20 * FOOT) == 0.0

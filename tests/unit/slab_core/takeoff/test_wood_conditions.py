"""Findings on the moisture of boards; expected moistures are the Wood Handbook's at 70 °F."""

from dataclasses import replace

import pytest

from slab_core.errors import Problem
from slab_core.materials import starter
from slab_core.materials.model import Climate
from slab_core.materials.wood_limits_model import SubfloorPoints, WoodLimits
from slab_core.takeoff.model import Site, WoodMoisture
from slab_core.units.lengths import METRES_PER_INCH as INCH_M
from tests.laid_floors import floor_of, rectangle
from tests.takeoff_jobs import plan, taken_off

FLOOR = floor_of(rectangle(0, 0, 3, 3))
OAK = WoodMoisture(species="white-oak", board_percent=9.0, lived_humidity=(0.45, 0.5))
CODES = ("boards-not-acclimated", "boards-and-subfloor-apart", "boards-will-move")


def _found(wood: WoodMoisture | None, *, humidity: float = 0.5, width_in: float = 5.0) -> dict[str, Problem]:
    made = taken_off(
        (FLOOR,),
        (plan(FLOOR),),
        site=Site(built_year=1995, wood=wood),
        climate=Climate(humidity=humidity),
        covering=replace(starter.covering(), width_m=width_in * INCH_M),
    )
    return {problem.code: problem for problem in made.problems if problem.code in CODES}


def test_boards_that_fit_the_air_and_stay_in_it_give_no_finding_nor_do_boards_not_measured() -> None:
    assert not _found(OAK)
    assert not _found(None)


@pytest.mark.parametrize(("percent", "held"), [(7.3, False), (7.1, True), (11.1, False), (11.4, True)])
def test_boards_are_held_until_within_two_points_of_what_the_air_brings_them_to(
    percent: float, held: bool
) -> None:
    """At 70 °F and 50 % that is 9.2 %."""
    found = _found(replace(OAK, board_percent=percent))
    assert ("boards-not-acclimated" in found) is held
    if held:
        assert "9.2 %" in found["boards-not-acclimated"].detail
        assert ("dry" in found["boards-not-acclimated"].detail) is (percent > 9.2)
        assert found["boards-not-acclimated"].severity == "finding"


@pytest.mark.parametrize(
    ("width_in", "subfloor", "held"),
    [(5.0, 11.0, False), (5.0, 11.1, True), (2.25, 13.0, False), (2.25, 13.1, True), (5.0, 6.9, True)],
)
def test_boards_may_differ_from_a_wood_subfloor_by_four_points_for_strip_and_two_for_wider(
    width_in: float, subfloor: float, held: bool
) -> None:
    found = _found(replace(OAK, subfloor_percent=subfloor), width_in=width_in)
    assert ("boards-and-subfloor-apart" in found) is held


def test_how_far_boards_would_move_is_told_as_an_upper_bound_and_never_as_a_gap() -> None:
    """5 in of white oak from 9 % to the 6.2 % of 30 % RH: 5 × 0.00365 × 2.8 = 0.05 in."""
    wood = replace(OAK, lived_humidity=(0.3, 0.5))
    moved = _found(wood)["boards-will-move"]
    assert '3/64" (1.3 mm) narrower' in moved.detail
    assert "not to be added up to a gap" in moved.detail
    assert moved.severity == "warning"
    # Quartersawn it is half of that, which nobody sees.
    assert not _found(replace(wood, quartersawn=True))


def test_boards_are_judged_by_their_own_product_s_limits_with_its_source() -> None:
    limits = WoodLimits(
        acclimated_points=1.0,
        acclimated_source="the boards' sheet",
        subfloor_points=(SubfloorPoints(from_width_m=0.0, points=1.5),),
        subfloor_source="the boards' sheet, page 2",
        least_air_humidity_percent=35.0,
        most_air_humidity_percent=45.0,
        air_source="the boards' sheet, page 3",
    )
    made = taken_off(
        (FLOOR,),
        (plan(FLOOR),),
        site=Site(built_year=1995, wood=replace(OAK, board_percent=7.9, subfloor_percent=9.5)),
        climate=Climate(humidity=0.5),
        covering=replace(starter.covering(), limits=limits),
    )
    found = {problem.code: problem.detail for problem in made.problems}
    assert "within 1 points" in found["boards-not-acclimated"]
    assert "the boards' sheet, page 2" in found["boards-and-subfloor-apart"]
    assert "35 to 45 % RH first (the boards' sheet, page 3)" in found["climate-for-wood"]
    sources = {hold.code: hold.source for hold in made.holds}
    assert sources["boards-not-acclimated"].endswith("how near: the boards' sheet")
    assert sources["boards-and-subfloor-apart"] == "the boards' sheet, page 2"

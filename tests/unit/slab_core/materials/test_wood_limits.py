"""What boards ask of air and subfloor is data of the product, and what cannot be kept is named."""

from dataclasses import replace

import msgspec
import pytest

from slab_core.materials import starter
from slab_core.materials.model import Catalogue
from slab_core.materials.wood_limits_model import USUAL_WOOD, SubfloorPoints, wood_limit_slips
from slab_core.units.lengths import METRES_PER_INCH as INCH_M


def test_strip_may_differ_from_its_subfloor_by_four_points_and_wider_boards_by_two() -> None:
    """The wood flooring trade's rule, read second-hand."""
    assert USUAL_WOOD.most_points_apart(width_m=2.25 * INCH_M) == 4.0
    assert USUAL_WOOD.most_points_apart(width_m=3 * INCH_M) == 2.0
    assert USUAL_WOOD.most_points_apart(width_m=5 * INCH_M) == 2.0


def test_the_widest_row_that_a_board_reaches_counts() -> None:
    rows = ((0.0, 4.0), (0.1, 2.0), (0.2, 1.5))
    limits = replace(
        USUAL_WOOD,
        subfloor_points=tuple(SubfloorPoints(from_width_m=width, points=points) for width, points in rows),
    )
    assert [limits.most_points_apart(width_m=width) for width in (0.05, 0.15, 0.3)] == [4.0, 2.0, 1.5]


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"least_air_temperature_c": 30.0}, "least_air_temperature_c"),
        ({"least_air_humidity_percent": 60.0}, "least_air_humidity_percent"),
        ({"most_air_humidity_percent": 101.0}, "most_air_humidity_percent"),
        ({"acclimated_points": 0.0}, "acclimated_points"),
        ({"subfloor_points": ()}, "subfloor_points"),
        ({"subfloor_points": (SubfloorPoints(from_width_m=0.1, points=2.0),)}, "subfloor_points"),
        (
            {"subfloor_points": (SubfloorPoints(from_width_m=0.0, points=-1.0),)},
            "subfloor_points/0/points",
        ),
        (
            {"subfloor_points": (SubfloorPoints(from_width_m=0.0, points=2.0),) * 2},
            "subfloor_points/1/from_width_m",
        ),
    ],
)
def test_what_no_air_and_no_boards_can_keep_is_named_by_its_field(
    changes: dict[str, object], field: str
) -> None:
    limits = replace(USUAL_WOOD, **changes)  # type: ignore[arg-type]  # each has its field's kind
    assert [slip[0] for slip in wood_limit_slips(limits)] == [field]
    assert not list(wood_limit_slips(USUAL_WOOD))


def test_a_catalogue_that_was_stored_before_has_the_usual_ones() -> None:
    plain = msgspec.to_builtins(starter.catalogue())
    del plain["wood_limits"]
    assert msgspec.convert(plain, Catalogue) == starter.catalogue()

"""Lengths as a crew reads them."""

import pytest

from slab_core.units.display import feet_inches, inches, millimetres
from slab_core.units.lengths import LengthRefused, to_nanometres


@pytest.mark.parametrize(
    ("in_inches", "text"),
    [
        (147.625, "12' 3-5/8\""),
        (144.0, "12' 0\""),
        (3.625, '3-5/8"'),
        (0.0, '0"'),
        (-0.001, '0"'),
        (-147.625, "-12' 3-5/8\""),
        (11.99, "1' 0\""),
        (0.5, '1/2"'),
    ],
)
def test_feet_and_inches_are_written_in_lowest_terms(in_inches: float, text: str) -> None:
    assert feet_inches(in_inches * 0.0254) == text


@pytest.mark.parametrize(
    ("sixty_fourths", "text"), [(1, '0"'), (3, '1/16"'), (5, '1/16"'), (-3, '-1/16"'), (26, '13/32"')]
)
def test_half_way_goes_to_the_even_graduation(sixty_fourths: int, text: str) -> None:
    assert inches(sixty_fourths * 0.000396875) == text


@pytest.mark.parametrize(
    ("metres", "decimals", "text"),
    [(0.0032, 1, "3.2 mm"), (-0.00004, 1, "0.0 mm"), (-0.0127, 1, "-12.7 mm"), (1.2345, 0, "1234 mm")],
)
def test_millimetres_keep_their_decimals(metres: float, decimals: int, text: str) -> None:
    assert millimetres(metres, decimals=decimals) == text


def test_what_is_not_finite_has_no_nanometres() -> None:
    with pytest.raises(LengthRefused, match="finite"):
        to_nanometres(float("nan"))

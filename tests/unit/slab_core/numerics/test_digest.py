"""A recipe changes with what goes in and with nothing else."""

from dataclasses import replace
from decimal import Decimal

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from slab_core.numerics.digest import canonical, recipe
from slab_core.rooms.model import Room

ROOM = Room(id="den", name="Den", outline=((0.0, 0.0), (5.0, 0.0), (5.0, 4.0), (0.0, 4.0)))


def _digest(*inputs: object, version: int = 1, upstream: tuple[bytes, ...] = ()) -> bytes:
    return recipe(stage="rooms", version=version, inputs=inputs, upstream=upstream)


def test_the_same_inputs_give_the_same_recipe() -> None:
    assert _digest(ROOM) == _digest(replace(ROOM))


def test_version_upstream_and_every_input_count() -> None:
    moved = replace(ROOM, outline=((0.0, 0.0), (5.000001, 0.0), (5.0, 4.0), (0.0, 4.0)))
    different = {
        _digest(ROOM),
        _digest(moved),
        _digest(ROOM, version=2),
        _digest(ROOM, upstream=(b"x",)),
        _digest(ROOM, 1),
    }
    assert len(different) == 5


def test_a_sixty_fourth_of_an_inch_is_exactly_396875_nanometres() -> None:
    room = replace(ROOM, outline=((0.0254 / 64, 0.0),))
    assert b"396875" in canonical(room)


@given(st.floats(min_value=-100, max_value=100), st.floats(min_value=-2e-10, max_value=2e-10))
def test_noise_in_the_last_bits_of_a_length_does_not_change_the_recipe(metres: float, noise: float) -> None:
    exact = round(metres, 6)
    assert _digest(replace(ROOM, outline=((exact, 0.0),))) == _digest(
        replace(ROOM, outline=((exact + noise, 0.0),))
    )


def test_dictionaries_count_by_content_not_by_order_and_decimals_by_value() -> None:
    assert _digest({"a": Decimal("1.50"), "b": 2}) == _digest({"b": 2, "a": Decimal("1.5")})


def test_columns_count_by_value_and_shape() -> None:
    assert _digest(np.zeros((2, 3))) != _digest(np.zeros((3, 2)))


def test_a_length_of_three_metres_is_the_same_written_as_a_whole_number() -> None:
    whole = replace(ROOM, outline=((3, 0), (3, 4)))
    assert _digest(whole) == _digest(replace(ROOM, outline=((3.0, 0.0), (3.0, 4.0))))

"""Stored models come back equal bit for bit."""

import json
from dataclasses import dataclass
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays
from msgspec import ValidationError

from slab_app.codec import Encoded, decode, encode
from slab_core.numerics.grid import Floats, Ints
from slab_core.tolerance.model import FNumbers


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sample:
    name: str
    heights: Floats
    steps: Ints
    price: Decimal
    number: float


def _sample(heights: Floats, number: float) -> Sample:
    return Sample(
        name="Dën ½",
        heights=heights,
        steps=np.arange(6, dtype=np.int32).reshape(2, 3),
        price=Decimal("12.50"),
        number=number,
    )


@given(
    arrays.arrays(
        np.float64, arrays.array_shapes(max_dims=2, max_side=9), elements=st.floats(allow_nan=False)
    ),
    st.floats(allow_nan=False),
)
def test_a_model_comes_back_with_every_bit_of_its_arrays_and_numbers(heights: Floats, number: float) -> None:
    back = decode(Sample, encode(_sample(heights, number)))
    assert back.heights.tobytes() == heights.tobytes()
    assert back.heights.shape == heights.shape
    assert back.number == number
    assert back.price == Decimal("12.50")
    assert (back.name, back.steps.dtype, back.steps.tolist()) == (
        "Dën ½",
        np.dtype(np.int32),
        [[0, 1, 2], [3, 4, 5]],
    )


def test_encoding_twice_gives_the_same_bytes() -> None:
    heights = np.linspace(0, 1, 7)
    assert encode(_sample(heights, 0.1)) == encode(_sample(heights.copy(), 0.1))


@dataclass(frozen=True, slots=True, kw_only=True)
class Chosen:
    floors: frozenset[int]


def test_equal_sets_give_the_same_bytes_however_they_came_about() -> None:
    one, other = frozenset([0, 8]), frozenset([8, 0])
    assert list(one) != list(other)  # the two fall into one place, where the first to come stays first
    assert encode(Chosen(floors=one)) == encode(Chosen(floors=other))
    assert decode(Chosen, encode(Chosen(floors=one))) == Chosen(floors=other)


def test_an_infinite_f_number_survives_and_the_json_stays_standard() -> None:
    encoded = encode(FNumbers(ff=float("inf"), fl=20.0, lines=(), spacing_m=0.3))
    json.loads(encoded.json, parse_constant=lambda name: pytest.fail(f"{name} is not JSON"))
    assert decode(FNumbers, encoded).ff == float("inf")


@dataclass(frozen=True, slots=True, kw_only=True)
class Nested:
    number: float
    inner: tuple[tuple[str, float], ...]
    whole: int = 0


@given(st.floats(), st.lists(st.tuples(st.text(max_size=9), st.floats()), max_size=5), st.integers())
def test_what_is_not_finite_is_found_at_any_depth_beside_whole_numbers_of_any_size(
    number: float, inner: list[tuple[str, float]], whole: int
) -> None:
    model = Nested(number=number, inner=tuple(inner), whole=whole)
    encoded = encode(model)
    json.loads(encoded.json, parse_constant=lambda name: pytest.fail(f"{name} is not JSON"))
    assert repr(decode(Nested, encoded)) == repr(model)


def test_a_row_of_another_shape_is_refused_with_its_place() -> None:
    with pytest.raises(ValidationError, match=r"\$\.ff"):
        decode(
            FNumbers, Encoded(json=b'{"ff":"x","fl":1,"lines":[],"spacing_m":1}', arrays=encode(()).arrays)
        )

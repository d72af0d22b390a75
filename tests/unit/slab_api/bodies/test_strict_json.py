"""JSON read strictly."""

import json
from contextlib import suppress
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from slab_api.bodies.strict_json import read_json
from slab_api.problems import ApiProblem

_PLAIN = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**63), 2**63)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=8),
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(st.text(max_size=4).filter(lambda t: "\0" not in t), inner, max_size=4)
    ),
    max_leaves=20,
)


@given(value=_PLAIN)
def test_what_is_json_is_read_as_it_is(value: Any) -> None:
    assert read_json(json.dumps(value).encode(), deepest=64) == value


@given(raw=st.binary(max_size=40))
def test_whatever_arrives_is_read_or_refused_and_nothing_else(raw: bytes) -> None:
    with suppress(ApiProblem):
        read_json(raw, deepest=8)


@pytest.mark.parametrize(
    ("raw", "pointers"),
    [
        (b'{"a": [1, NaN, {"b/c": Infinity}]}', ["/a/1", "/a/2/b~1c"]),
        (b'{"a": 1e999, "b": -1e999}', ["/a", "/b"]),
        (b'{"a": {"b": "x\\u0000"}}', ["/a/b"]),
        (b'{"\\u0000": 1}', ["/\x00"]),
        (b"[[[[[]]]]]", ["/0/0/0/0"]),
    ],
)
def test_the_places_of_what_is_not_allowed_are_named(raw: bytes, pointers: list[str]) -> None:
    with pytest.raises(ApiProblem) as caught:
        read_json(raw, deepest=4)
    assert [fault.pointer for fault in caught.value.faults] == pointers


def test_depth_is_allowed_up_to_the_limit() -> None:
    assert read_json(b"[" * 8 + b"]" * 8, deepest=8) == [[[[[[[[]]]]]]]]
    with pytest.raises(ApiProblem, match="deeper than 8"):
        read_json(b"[" * 9 + b"]" * 9, deepest=8)


@pytest.mark.parametrize(
    "raw",
    [b'{"a":1,"a":2}', b'[{"b":{"a" :1, "a"\n:2}}]', b'{"a":1,"\\u0061":2}'],
)
def test_a_name_given_twice_is_refused_with_its_name(raw: bytes) -> None:
    with pytest.raises(ApiProblem, match="'a'"):
        read_json(raw, deepest=64)


def test_text_that_looks_like_names_is_not_mistaken_for_them() -> None:
    value = {"a": '"b": "b": {"c":1}', "b": ['": ":', '\\":']}
    assert read_json(json.dumps(value).encode(), deepest=64) == value


@pytest.mark.parametrize(
    "raw", [b"", b"{", b'{"a":}', b"\xef\xbb\xbf{}", b"{} {}", b"'a'", b"\xff", b"01", b'"\t"']
)
def test_what_is_no_json_is_refused(raw: bytes) -> None:
    with pytest.raises(ApiProblem) as caught:
        read_json(raw, deepest=64)
    assert caught.value.kind.code == "malformed-json"


def test_an_empty_body_is_said_to_be_empty_and_a_place_is_named_once() -> None:
    with pytest.raises(ApiProblem, match="empty"):
        read_json(b" ", deepest=64)
    with pytest.raises(ApiProblem) as caught:
        read_json(b'"open', deepest=64)
    assert " at at " not in caught.value.detail

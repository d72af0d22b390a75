"""Identifiers: UUIDv7, ordered by time, and one spelling only."""

import itertools
import threading
import time
from datetime import UTC, datetime, timedelta
from uuid import UUID, uuid4

import pytest
from hypothesis import given
from hypothesis import strategies as st

from slab_base.ids import InvalidIdError, made_at, new_id, parse_id, uuid7


def test_the_parts_of_the_published_example_give_the_published_uuid() -> None:
    # RFC 9562 appendix A.6: unix_ts_ms 0x017F22E279B0, rand_a 0xCC3, rand_b 0x18C4DC0C0C07398F.
    made = uuid7(milliseconds=0x017F22E279B0, fraction=0xCC3, random=0x18C4DC0C0C07398F)
    assert str(made) == "017f22e2-79b0-7cc3-98c4-dc0c0c07398f"
    assert made_at(value=made) == datetime(2022, 2, 22, 19, 22, 22, tzinfo=UTC)


@given(st.integers(0, 2**48 - 1), st.integers(0, 2**12 - 1), st.integers(0, 2**62 - 1))
def test_every_made_id_has_version_7_and_the_standard_variant(
    milliseconds: int, fraction: int, random: int
) -> None:
    made = uuid7(milliseconds=milliseconds, fraction=fraction, random=random)
    assert made.version == 7
    assert made.variant == "specified in RFC 4122"
    assert made.int >> 80 == milliseconds


@pytest.mark.parametrize("part", ["milliseconds", "fraction", "random"])
def test_a_part_that_does_not_fit_its_field_is_refused(part: str) -> None:
    with pytest.raises(ValueError, match=part):
        uuid7(**{"milliseconds": 0, "fraction": 0, "random": 0, part: 1 << 62})


def test_ids_made_one_after_the_other_rise_strictly() -> None:
    made = [new_id() for _ in range(20_000)]
    assert all(a < b for a, b in itertools.pairwise(made))


def test_threads_never_make_the_same_id_and_each_sees_its_own_rise() -> None:
    lists: list[list[UUID]] = [[] for _ in range(4)]
    threads = [
        threading.Thread(target=lambda own=own: own.extend(new_id() for _ in range(3000))) for own in lists
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len({value for own in lists for value in own}) == 12_000
    assert all(own == sorted(own) for own in lists)


def test_a_new_id_carries_the_present_time() -> None:
    time.sleep(0.02)  # lets the ids of the tests above, which run ahead of the clock, fall behind it
    assert abs(made_at(value=new_id()) - datetime.now(UTC)) < timedelta(seconds=5)


def test_a_client_may_use_any_version_of_uuid() -> None:
    value = uuid4()
    assert parse_id(str(value)) == value
    assert parse_id(str(value).upper()) == value


@pytest.mark.parametrize("form", ["{{{0}}}", "urn:uuid:{0}", " {0}", "{0}x", ""])
def test_a_second_spelling_of_an_id_is_refused(form: str) -> None:
    with pytest.raises(InvalidIdError, match="is not a UUID"):
        parse_id(form.format(uuid4()))


def test_the_time_of_another_version_is_refused() -> None:
    with pytest.raises(InvalidIdError, match="version 4"):
        made_at(value=uuid4())

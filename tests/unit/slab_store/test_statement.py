"""Parameters by name reach the driver, and nothing else of the SQL is changed."""

from slab_store.statement import text


def test_names_become_the_drivers_parameters_however_often_they_stand() -> None:
    assert text("WHERE a = :one AND b = ANY(:many_2) OR c = :one") == (
        b"WHERE a = %(one)s AND b = ANY(%(many_2)s) OR c = %(one)s"
    )


def test_casts_and_times_of_day_are_no_parameters() -> None:
    assert text("SELECT '2026-01-01 10:30'::timestamp, x::text") == (
        b"SELECT '2026-01-01 10:30'::timestamp, x::text"
    )


def test_a_per_cent_sign_stays_one() -> None:
    assert text("a LIKE 'x%' AND b = :b") == b"a LIKE 'x%%' AND b = %(b)s"

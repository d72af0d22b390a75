"""The text of API keys."""

from uuid import uuid4

import pytest

from slab_app.keys import KeyText, new_key, parse_key


def test_a_key_reads_back_as_it_was_made() -> None:
    organisation = uuid4()
    key = new_key(organisation=organisation)
    assert parse_key(key.text()) == key
    assert key.organisation == organisation
    assert key.text().startswith("slab_")


def test_every_single_wrong_letter_is_noticed_before_the_database_is_asked() -> None:
    text = new_key(organisation=uuid4()).text()
    for place, letter in enumerate(text):
        other = "a" if letter != "a" else "b"
        assert parse_key(text[:place] + other + text[place + 1 :]) is None


@pytest.mark.parametrize(
    "text", ["", "slab", "slab___", "a_b_c_d", "slab_" + "a" * 34 + "_" + "é" * 52 + "_aaaaaaa"]
)
def test_what_is_no_key_is_none(text: str) -> None:
    assert parse_key(text) is None


def test_only_the_right_secret_opens_and_none_is_shown() -> None:
    key, other = (new_key(organisation=uuid4()) for _ in range(2))
    assert key.opens(key.digest())
    assert not key.opens(other.digest())
    assert not key.opens(bytes(32))
    assert key.secret not in repr(key)
    assert len(key.secret) * 5 >= 256


def test_secrets_are_not_repeated() -> None:
    organisation = uuid4()
    keys: list[KeyText] = [new_key(organisation=organisation) for _ in range(100)]
    assert len({key.secret for key in keys}) == len({key.key_id for key in keys}) == 100

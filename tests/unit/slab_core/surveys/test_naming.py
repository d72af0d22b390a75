"""Readings named as a person counts them."""

import pytest

from slab_core.surveys.naming import named


@pytest.mark.parametrize(
    ("pointer", "words"),
    [
        ("/surveys/0/readings/0/value/120", "reading 121 of survey 1"),
        ("/surveys/1/readings/2/value/0", "reading 1 of block 3 of survey 2"),
        ("/surveys/0/lines/0/value/3", "reading 4 of line 1 of survey 1"),
        ("/surveys/0/stretched_lines/0/value/3", "reading 4 of stretched line 1 of survey 1"),
        ("/surveys/0/gaps/0/gap/1", "gap 2 of survey 1"),
    ],
)
def test_a_pointer_becomes_words_that_count_from_one(pointer: str, words: str) -> None:
    assert named(pointer) == words

"""Merging and reading the firm's books."""

import pytest

from slab_api.intake.firm import as_document, as_model, check_document, merged, starter_document
from slab_api.problems import ApiProblem
from slab_store.firm_versions import FirmKind

_KINDS: tuple[FirmKind, ...] = ("price-book", "catalogue", "rates", "calendar")


@pytest.mark.parametrize("kind", _KINDS)
def test_a_starter_is_complete_and_reads_back_as_itself(kind: FirmKind) -> None:
    document = starter_document(kind)
    check_document(kind, document, posted={})
    assert as_document(as_model(kind, document, version="x")) == document


def test_objects_merge_by_field_lists_by_key_and_other_lists_whole() -> None:
    before = {"a": {"b": 1, "c": 2}, "prices": [{"code": "x", "n": 1}, {"code": "y"}], "days": [1, 2]}
    changes = {"a": {"b": 3}, "prices": [{"code": "z"}, {"code": "x", "n": 2}], "days": [4], "e": None}
    assert merged(before, changes) == {
        "a": {"b": 3, "c": 2},
        "prices": [{"code": "x", "n": 2}, {"code": "y"}, {"code": "z"}],
        "days": [4],
    }
    assert before["days"] == [1, 2]


def test_what_a_new_item_lacks_is_named_with_its_place() -> None:
    posted = {"items": [{"id": "own"}]}
    document = merged(starter_document("catalogue"), posted)
    with pytest.raises(ApiProblem) as caught:
        check_document("catalogue", document, posted=posted)
    assert caught.value.faults[0].pointer.startswith("/items/0")
    assert "name" in caught.value.faults[0].detail

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


def test_a_first_book_of_ones_own_keeps_the_starters_other_rows() -> None:
    starter = starter_document("price-book")
    first = starter["prices"][0]
    made = merged(starter, {"prices": [{"code": first["code"], "amount": "61.25"}]})
    assert [row["code"] for row in made["prices"]] == [row["code"] for row in starter["prices"]]
    assert made["prices"][0] == {**first, "amount": "61.25"}
    check_document("price-book", made, posted={})


def test_what_a_new_item_lacks_is_named_with_its_place() -> None:
    posted = {"items": [{"id": "own"}]}
    document = merged(starter_document("catalogue"), posted)
    with pytest.raises(ApiProblem) as caught:
        check_document("catalogue", document, posted=posted)
    assert caught.value.faults[0].pointer.startswith("/items/0")
    assert "name" in caught.value.faults[0].detail


def _refused(kind: FirmKind, posted: dict[str, object]) -> str:
    document = merged(starter_document(kind), posted)
    with pytest.raises(ApiProblem) as caught:
        check_document(kind, document, posted=posted)
    (fault,) = caught.value.faults
    return fault.pointer


def test_another_stock_length_names_an_item_of_the_catalogue_that_stands_for_itself() -> None:
    package = {"unit": "stick", "size": 2.44, "size_unit": "m", "weight_kg": 1.0}
    other = {"id": "base-8", "name": "Base, 8 ft", "kind": "base", "package": package}
    fits = {"items": [{**other, "other_length_of": "base"}]}
    check_document("catalogue", merged(starter_document("catalogue"), fits), posted=fits)
    for wrong in ("skirting", "base-8"):
        assert _refused("catalogue", {"items": [{**other, "other_length_of": wrong}]}) == (
            "/items/0/other_length_of"
        )


def test_trim_is_neither_cut_from_splinters_nor_cut_away() -> None:
    assert _refused("catalogue", {"items": [{"id": "base", "package": {"size": 0.01}}]}) == (
        "/items/0/package/size"
    )
    assert _refused("rates", {"trim": {"scarf_overlap_m": 2.0}}) == "/trim/scarf_overlap_m"


def test_a_catalogue_from_before_products_had_leads_limits_and_hazards_reads_with_the_usual_ones() -> None:
    document = starter_document("catalogue")
    newer = ("lead_days", "limits", "hazards")
    for product in (document["compound"], document["primer"], document["patch"], document["adhesive"]):
        for name in newer:
            del product[name]
    for item in document["items"]:
        del item["lead_days"]
    check_document("catalogue", document, posted={})
    read = as_document(as_model("catalogue", document, version="x"))
    assert read["adhesive"]["lead_days"] == 0
    assert read["adhesive"]["limits"]["most_ph"] is None
    assert tuple(read["adhesive"]["hazards"]) == ("isocyanates",)
    assert tuple(read["compound"]["hazards"]) == ("wet-cement",)


@pytest.mark.parametrize(
    ("limits", "field"),
    [
        ({"least_ph": 9.0, "most_ph": 8.0}, "least_ph"),
        ({"least_temperature_c": 31.0, "most_temperature_c": 30.0}, "least_temperature_c"),
        ({"least_profile": 11}, "least_profile"),
        ({"least_profile": 0}, "least_profile"),
    ],
)
def test_limits_that_no_slab_keeps_are_refused_where_they_stand(limits: dict[str, float], field: str) -> None:
    changes = {"primer": {"limits": limits}}
    document = merged(starter_document("catalogue"), changes)
    with pytest.raises(ApiProblem) as refused:
        check_document("catalogue", document, posted=changes)
    assert [fault.pointer for fault in refused.value.faults] == [f"/primer/limits/{field}"]


def test_a_greatest_lift_below_the_least_is_refused_where_it_stands() -> None:
    changes = {"compound": {"least_lift_m": 0.006, "greatest_lift_m": 0.005}}
    document = merged(starter_document("catalogue"), changes)
    with pytest.raises(ApiProblem) as refused:
        check_document("catalogue", document, posted=changes)
    (fault,) = refused.value.faults
    assert fault.pointer == "/compound/greatest_lift_m"
    assert "0.005 is less than least_lift_m, which is 0.006" in fault.detail
    once = merged(
        starter_document("catalogue"), {"compound": {"least_lift_m": 0.006, "greatest_lift_m": 0.01}}
    )
    check_document("catalogue", once, posted={})  # poured in one lift alone


@pytest.mark.parametrize("product", ["compound", "patch", "primer", "adhesive"])
def test_a_package_that_holds_nothing_is_refused_where_it_stands(product: str) -> None:
    changes = {product: {"package": {"size": 0.0}}}
    with pytest.raises(ApiProblem) as refused:
        check_document("catalogue", merged(starter_document("catalogue"), changes), posted=changes)
    assert [fault.pointer for fault in refused.value.faults] == [f"/{product}/package/size"]


@pytest.mark.parametrize(
    "posted", [{"cuts": {"ph": 0.5}}, {"cuts": {"usual_rip_m_per_m2": 20.0}}, {"pre_cut_m2_per_ph": 20.0}]
)
def test_usual_cuts_leave_something_of_the_hours_that_the_rate_of_pre_cutting_says(
    posted: dict[str, object],
) -> None:
    assert _refused("rates", posted) == "/cuts"
    check_document("rates", merged(starter_document("rates"), {"cuts": {"ph": 0.0}}), posted={})

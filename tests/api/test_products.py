"""A firm has several products of a kind, and a job says which of them it takes."""

from typing import Any
from uuid import uuid4

from tests.support.api import Firm, valid_job
from tests.support.own_worker import OwnWorker
from tests.support.problems import pointers_of

RAPID = {"id": "rapid", "name": "Rapid compound, 50 lb", "next_pour_hours": 4, "pot_life_minutes": 2}
GLUE = {
    "id": "firm-glue",
    "name": "Firm glue",
    "trowels": [
        {"notch": "3/16 in V", "coverage_m2_per_l": 1.5, "film_m": 0.0015},
        {"notch": "1/4 in square", "coverage_m2_per_l": 0.6, "film_m": 0.0025},
    ],
}


def _takeoff(firm: Firm, worker: OwnWorker, **products: str) -> Any:
    answer = firm.post("/v1/estimates", valid_job(products=products))
    assert answer.status_code == 202, answer.text
    worker.work_off()
    return firm.client.get(f"{answer.headers['location']}/takeoff").json()["result"]


def _line(takeoff: Any, code: str) -> Any:
    return next(
        line for line in takeoff["lines"] if line["key"]["code"] == code and line["kind"] == "material"
    )


def test_a_further_product_is_like_the_usual_one_where_it_says_nothing_else(firm: Firm) -> None:
    document = firm.post("/v1/catalogues", {"compounds": [RAPID], "adhesives": [GLUE]}).json()["document"]
    (rapid,), usual = document["compounds"], document["compound"]
    assert (rapid["id"], rapid["next_pour_hours"]) == ("rapid", 4)
    assert rapid["package"] == usual["package"]
    again = firm.post("/v1/catalogues", {"compounds": [{"id": "rapid", "walk_hours": 2}]}).json()["document"]
    assert again["compounds"] == [{**rapid, "walk_hours": 2}]
    assert again["adhesives"] == document["adhesives"]


def test_a_job_takes_the_products_and_the_notch_that_it_names(firm: Firm, worker: OwnWorker) -> None:
    firm.post("/v1/catalogues", {"compounds": [RAPID], "adhesives": [GLUE]})
    usual = _takeoff(firm, worker)
    assert _line(usual, "compound")["key"]["product"] == "levelling-compound"
    assert "second-look-pot-life" not in {problem["code"] for problem in usual["problems"]}
    own = _takeoff(firm, worker, compound="rapid", adhesive="firm-glue", trowel="1/4 in square")
    assert _line(own, "compound")["key"]["product"] == "rapid"
    glue = _line(own, "adhesive")
    assert glue["key"]["product"] == "firm-glue"
    assert glue["trace"]["inputs"]["coverage"].startswith("0.6")
    assert glue["net"] > 1.5 * _line(usual, "adhesive")["net"]
    (warning,) = [problem for problem in own["problems"] if problem["code"] == "second-look-pot-life"]
    assert warning["detail"].startswith("Rapid compound, 50 lb: a batch takes by the rates ")


def test_a_product_without_a_price_of_its_own_is_not_charged_as_the_usual_one(
    firm: Firm, worker: OwnWorker
) -> None:
    firm.post("/v1/catalogues", {"compounds": [RAPID]})

    def priced() -> tuple[list[str], dict[str, Any]]:
        path = firm.post("/v1/estimates", valid_job(products={"compound": "rapid"})).headers["location"]
        worker.work_off()
        quote = firm.client.get(f"{path}/quote").json()["result"]
        missing = [one["detail"] for one in quote["problems"] if one["code"] == "price-missing"]
        return missing, {line["key"]["product"]: line["unit_cost"] for line in quote["lines"]}

    missing, _ = priced()
    assert any("rapid" in detail for detail in missing)
    price = {"code": "rapid", "amount": "41.5", "unit": "bag", "tax_class": "material"}
    assert firm.post("/v1/price-books", {"prices": [price]}).status_code == 201
    missing, costs = priced()
    assert missing == []
    assert float(costs["rapid"]["amount"]) == 41.5


def test_products_that_the_catalogue_lacks_are_refused_by_field_with_those_it_has(firm: Firm) -> None:
    firm.post("/v1/catalogues", {"compounds": [RAPID]})
    answer = firm.post("/v1/estimates", valid_job(products={"compound": "rapit", "trowel": "1/4 in"}))
    assert sorted(pointers_of(answer)) == ["/products/compound", "/products/trowel"]
    assert "it has 'levelling-compound', 'rapid'" in answer.text


def test_further_products_are_checked_as_the_usual_ones_are(firm: Firm) -> None:
    wrong = {
        "compounds": [{"id": "rapid", "package": {"size": 0}}, {"name": "nameless"}],
        "primers": [{"id": "wood-adhesive"}],
        "adhesives": [{**GLUE, "trowels": [{"notch": "V", "coverage_m2_per_l": 0, "film_m": 0.001}]}],
    }
    told = firm.post("/v1/catalogues", {"compounds": wrong["compounds"][1:]})
    assert told.status_code == 422
    told = firm.post("/v1/catalogues", wrong | {"compounds": wrong["compounds"][:1], "primers": []})
    assert sorted(pointers_of(told)) == [
        "/adhesives/0/trowels/0/coverage_m2_per_l",
        "/compounds/0/package/size",
    ]
    assert pointers_of(firm.post("/v1/catalogues", {"primers": wrong["primers"]})) == ["/primers/0/id"]


def test_a_table_has_several_rows_of_a_kind_of_which_the_first_is_the_usual_one(firm: Firm) -> None:
    text = "id,kind,name,pot_life_minutes,size\nslow,compound,Slow,30,\nrapid,compound,Rapid,8,0\n"

    def post(text: str) -> Any:
        headers = {"idempotency-key": str(uuid4()), "content-type": "text/csv"}
        return firm.client.post("/v1/catalogues", content=text, headers=headers)

    assert pointers_of(post(text)) == ["/rows/3/size"]
    document = post(text.replace(",8,0", ",8,")).json()["document"]
    assert document["compound"]["id"] == "slow"
    (rapid,) = document["compounds"]
    assert (rapid["id"], rapid["pot_life_minutes"]) == ("rapid", 8)
    assert rapid["package"] == document["compound"]["package"]


def test_the_slab_s_thickness_and_walls_say_how_it_is_tested(firm: Firm, worker: OwnWorker) -> None:
    slab = {"thickness": "5 in", "exterior_walls": 4}
    answer = firm.post("/v1/estimates", valid_job(site={"slab": slab}))
    worker.work_off()
    takeoff = firm.client.get(f"{answer.headers['location']}/takeoff").json()["result"]
    (test,) = [line for line in takeoff["lines"] if line["key"]["code"] == "moisture-test"]
    assert test["trace"]["inputs"]["holes"] == '2" (50.8 mm) deep, 40% of a slab of 5"'
    assert test["trace"]["inputs"]["tests"] == "4"
    nothing = firm.post("/v1/estimates", valid_job(site={"slab": {"thickness": 0}}))
    assert pointers_of(nothing) == ["/site/slab/thickness"]

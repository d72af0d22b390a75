"""What one job is let off, and the firm's own words for alternates, from posting to the customer's link."""

from decimal import Decimal
from typing import Any

import httpx
import pytest

from slab_core.quote.labels import USUAL
from tests.support.api import Firm, Service, valid_job
from tests.support.own_worker import OwnWorker
from tests.support.problems import code_of, pointers_of

LATE = {"what": "For the day you waited", "reason": "Our grinder failed", "amount": "40.00"}
AGAIN = {"what": "Second job", "reason": "Came back within a year", "share": "0.05"}
BOOK = {"job_discount_share": "0.08", "alternate_labels": {"level": "Best: level from wall to wall"}}


def _estimate(firm: Firm, worker: OwnWorker, **changes: Any) -> dict[str, Any]:
    answer = firm.post("/v1/estimates", valid_job(**changes))
    assert answer.status_code == 202, answer.text
    worker.work_off()
    estimate: dict[str, Any] = firm.client.get(answer.headers["location"]).json()
    return estimate


def _quotes(firm: Firm, worker: OwnWorker, **changes: Any) -> list[dict[str, Any]]:
    estimate = _estimate(firm, worker, **changes)
    assert estimate["state"] == "completed", estimate["problems"]
    return [firm.client.get(path).json() for path in estimate["links"]["quotes"]]


def _offer(firm: Firm, customer: httpx.Client, quote: dict[str, Any]) -> dict[str, Any]:
    sent = firm.post(f"/v1/quotes/{quote['id']}/send", {})
    assert sent.status_code == 201, sent.text
    offer: dict[str, Any] = customer.get(sent.json()["link"]).json()
    return offer


def _off(lines: list[dict[str, Any]], what: str) -> Decimal:
    return sum((Decimal(each["price"]["amount"]) for each in lines if each["what"] == what), Decimal(0))


def test_a_job_is_let_off_a_share_and_an_amount_and_the_customer_reads_no_reason(
    service: Service, firm: Firm, worker: OwnWorker
) -> None:
    assert firm.post("/v1/price-books", BOOK).status_code == 201
    (plain,) = _quotes(firm, worker)
    (quote,) = _quotes(firm, worker, discounts=[LATE, AGAIN])
    before = Decimal(plain["document"]["quote"]["subtotal"]["amount"])
    offer = _offer(firm, service.client(), quote)
    assert _off(offer["lines"], LATE["what"]) == Decimal("-40.00")
    assert [each["what"] for each in offer["lines"]].count(LATE["what"]) == 1
    for name, whole in (("price", "subtotal"), ("tax", "tax")):
        assert sum(Decimal(each[name]["amount"]) for each in offer["lines"]) == Decimal(
            offer[whole]["amount"]
        )
    assert abs(_off(offer["lines"], AGAIN["what"]) + before * Decimal("0.05")) <= Decimal("0.01")
    assert LATE["reason"] not in str(offer)
    assert "Our grinder failed" in str(quote["document"])


def test_a_job_s_record_keeps_its_discount_and_estimates_take_it(firm: Firm, worker: OwnWorker) -> None:
    refused = firm.post("/v1/jobs", _record(discounts=[{**LATE, "share": "0.1"}]))
    assert pointers_of(refused) == ["/discounts/0"]
    made = firm.post("/v1/jobs", _record(discounts=[LATE]))
    assert made.status_code == 201, made.text
    assert made.json()["document"]["discounts"][0]["reason"] == "Our grinder failed"


def _record(**changes: Any) -> dict[str, Any]:
    inline = ("rooms", "surveys", "options", "follows")
    return {name: value for name, value in valid_job(**changes).items() if name not in inline}


@pytest.mark.parametrize(
    ("discounts", "place", "told"),
    [
        ([{**AGAIN, "share": "0.09"}], "/discounts", "at most 8 %"),
        ([AGAIN, AGAIN], "/discounts/1/what", "a text of its own"),
        ([{**LATE, "amount": "40.005"}], "/discounts/0/amount", "more digits than the 2"),
        ([{"what": "Free", "reason": "?"}], "/discounts/0", "either a share"),
    ],
)
def test_what_the_firm_does_not_allow_is_refused_when_it_is_posted(
    firm: Firm, discounts: list[dict[str, str]], place: str, told: str
) -> None:
    assert firm.post("/v1/price-books", BOOK).status_code == 201
    refused = firm.post("/v1/estimates", valid_job(discounts=discounts))
    assert code_of(refused) == "invalid-document"
    assert pointers_of(refused) == [place]
    assert told in refused.json()["errors"][0]["detail"]


def test_an_amount_beyond_what_is_allowed_ends_the_estimate_with_both_figures(
    firm: Firm, worker: OwnWorker
) -> None:
    estimate = _estimate(firm, worker, discounts=[{**LATE, "amount": "100000"}])
    (problem,) = [each for each in estimate["problems"] if each["severity"] == "refusal"]
    assert (problem["code"], problem["pointer"]) == ("discount-beyond-allowed", "/discounts")
    assert "100000 USD" in problem["detail"]
    assert "10 % of the prices before discounts" in problem["detail"]


def test_customers_read_the_firm_s_words_for_alternates_side_by_side(
    service: Service, firm: Firm, worker: OwnWorker
) -> None:
    assert firm.post("/v1/price-books", BOOK).status_code == 201
    quotes = _quotes(firm, worker, options={"alternates": ("plane", "level"), "seed": 1})
    offers = [_offer(firm, service.client(), quote) for quote in quotes]
    (beside,) = offers[-1]["beside"]
    assert {offers[-1]["label"], beside["label"]} == {USUAL["plane"], "Best: level from wall to wall"}


def test_a_label_for_what_is_no_alternate_is_refused_at_its_place(firm: Firm) -> None:
    refused = firm.post("/v1/price-books", {"alternate_labels": {"flat": "Good"}})
    assert pointers_of(refused) == ["/alternate_labels/flat"]
    assert "there are plane, level" in refused.json()["errors"][0]["detail"]

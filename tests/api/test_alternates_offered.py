"""A customer sees the alternates of an estimate side by side under one link, and takes one of them."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any

import httpx
import jsonschema

from slab_api.app import bare_app
from slab_api.openapi import openapi_document
from tests.support.api import Firm, Service, valid_job
from tests.support.own_worker import OwnWorker
from tests.support.problems import code_of

CUSTOMER = {"name": "R. Amsel"}
LAST_DAY = {"valid_until": (datetime.now(UTC) + timedelta(days=20)).date().isoformat()}
ASKED = ("plane", "level", "fill-only")
_DOCUMENT = openapi_document(bare_app(base_url="http://x"))


def _quotes(firm: Firm, worker: OwnWorker) -> list[dict[str, Any]]:
    """The quotes of three alternates, the dearest last."""
    answer = firm.post("/v1/estimates", valid_job(options={"alternates": ASKED, "seed": 1}))
    assert answer.status_code == 202, answer.text
    worker.work_off()
    quotes: list[dict[str, Any]] = firm.client.get(answer.headers["location"]).json()["quotes"]
    assert {quote["alternate"] for quote in quotes} == set(ASKED)
    return sorted(quotes, key=lambda quote: Decimal(quote["total"]["amount"]))


def _link(firm: Firm, quote: dict[str, Any]) -> str:
    answer = firm.post(f"/v1/quotes/{quote['id']}/send", LAST_DAY)
    assert answer.status_code == 201, answer.text
    return str(answer.json()["link"])


def _offer(customer: httpx.Client, link: str) -> dict[str, Any]:
    offer: dict[str, Any] = customer.get(link).json()
    whole = {"$ref": "#/components/schemas/Offer", "components": _DOCUMENT["components"]}
    jsonschema.Draft202012Validator(whole).validate(offer)
    return offer


def test_alternates_that_were_sent_stand_side_by_side_and_drafts_do_not(
    service: Service, firm: Firm, worker: OwnWorker
) -> None:
    first, second, draft = _quotes(firm, worker)
    link, _ = _link(firm, first), _link(firm, second)
    offer = _offer(service.client(), link)
    (beside,) = offer["beside"]
    assert (offer["number"], beside["number"]) == (first["number"], second["number"])
    assert draft["number"] not in (offer["number"], beside["number"])
    more = Decimal(beside["more"]["amount"])
    assert more == Decimal(second["total"]["amount"]) - Decimal(first["total"]["amount"])
    lines = sum(Decimal(n["price"]["amount"]) + Decimal(n["tax"]["amount"]) for n in beside["lines"])
    assert lines == Decimal(beside["total"]["amount"])
    assert "unit_cost" not in str(offer)


def test_a_customer_takes_the_one_beside_under_the_same_link_which_goes_on_to_show_it(
    service: Service, firm: Firm, worker: OwnWorker
) -> None:
    first, second, third = _quotes(firm, worker)
    link, *_ = [_link(firm, quote) for quote in (first, second, third)]
    customer = service.client()
    taken = customer.post(f"{link}/accept", json={**CUSTOMER, "number": second["number"]})
    assert taken.status_code == 200, taken.text
    offer = _offer(customer, link)
    assert offer["state"] == "superseded"
    (accepted,) = offer["beside"]
    assert (accepted["number"], accepted["state"]) == (second["number"], "accepted")
    assert accepted["answered_name"] == "R. Amsel"
    states = {
        quote["id"]: firm.client.get(f"/v1/quotes/{quote['id']}").json()["state"]
        for quote in (first, second, third)
    }
    assert [states[quote["id"]] for quote in (first, second, third)] == [
        "superseded", "accepted", "superseded",
    ]  # fmt: skip
    again = customer.post(f"{link}/accept", json={**CUSTOMER, "number": second["number"]})
    assert again.json() == taken.json()
    other = customer.post(f"{link}/accept", json={**CUSTOMER, "number": first["number"]})
    assert code_of(other) == "quote-not-open"


def test_only_what_stands_beside_can_be_taken(service: Service, firm: Firm, worker: OwnWorker) -> None:
    first, second, draft = _quotes(firm, worker)
    link, _ = _link(firm, first), _link(firm, second)
    customer = service.client()
    refused = customer.post(f"{link}/accept", json={**CUSTOMER, "number": draft["number"]})
    assert code_of(refused) == "not-found"
    assert str(second["number"]) in refused.json()["detail"]
    assert _offer(customer, link)["answer"] is None

"""Quotes go out to customers, are answered under a link, and are changed by order only."""

from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any
from uuid import uuid4

import httpx
import jsonschema
import pytest

from slab_api.app import bare_app
from slab_api.openapi import openapi_document
from slab_app.actions.offers import answer_offer, read_offer, shown_state
from slab_app.errors import QuoteExpired
from slab_app.keys import OFFER, parse_key
from slab_store.offers import Offer
from tests.support.api import Firm, Service, valid_job
from tests.support.own_worker import OwnWorker
from tests.support.problems import code_of, pointers_of
from tests.support.records import job_record, room_record, survey_record

OPTIONS = {"seed": 1, "pricing_date": "2026-03-02", "earliest_start": "2026-03-03T08:00:00-07:00"}
LAST_DAY = {"valid_until": (datetime.now(UTC) + timedelta(days=20)).date().isoformat()}
CUSTOMER = {"name": "R. Amsel"}
_DOCUMENT = openapi_document(bare_app(base_url="http://x"))


@pytest.fixture
def customer(service: Service) -> httpx.Client:
    """Someone with a link and no key."""
    return service.client()


def _check(schema: str, value: Any) -> None:
    whole = {"$ref": f"#/components/schemas/{schema}", "components": _DOCUMENT["components"]}
    jsonschema.Draft202012Validator(whole).validate(value)


def _job(firm: Firm) -> str:
    """The path of a job's record with a room and a closed survey."""
    path: str = firm.post("/v1/jobs", job_record()).headers["location"]
    room = firm.post(f"{path}/rooms", room_record())
    readings = survey_record()
    survey = firm.post(f"{path}/surveys", readings)
    assert (room.status_code, survey.status_code) == (201, 201), survey.text
    closed = firm.post(f"{survey.headers['location']}/close", {"chunks": 0})
    assert closed.status_code == 200, closed.text
    return path


def _quoted(firm: Firm, worker: OwnWorker, path: str, **request: Any) -> str:
    """The path of the quote of a new estimate of the job."""
    answer = firm.post(f"{path}/estimates", {"options": OPTIONS, **request})
    assert answer.status_code == 202, answer.text
    worker.work_off()
    (quote,) = firm.client.get(answer.headers["location"]).json()["links"]["quotes"]
    return str(quote)


def _sent(firm: Firm, quote: str) -> str:
    """The customer's link to a quote that is sent now."""
    answer = firm.post(f"{quote}/send", LAST_DAY)
    assert answer.status_code == 201, answer.text
    _check("SentQuote", answer.json())
    return str(answer.json()["link"])


def _state(firm: Firm, quote: str) -> str:
    found = firm.client.get(quote).json()
    _check("Quote", found)
    return str(found["state"])


def test_a_quote_is_sent_read_and_accepted_with_name_and_time(
    firm: Firm, worker: OwnWorker, customer: httpx.Client
) -> None:
    quote = _quoted(firm, worker, _job(firm))
    assert _state(firm, quote) == "draft"
    link = _sent(firm, quote)
    seen = customer.get(link).json()
    _check("Offer", seen)
    assert (seen["state"], seen["answer"]) == ("sent", None)
    accepted = customer.post(f"{link}/accept", json=CUSTOMER | {"note": "after the 9th please"})
    assert accepted.status_code == 200, accepted.text
    record = firm.client.get(quote).json()
    assert record["state"] == "accepted"
    (offer,) = record["offers"]
    assert (offer["answer"], offer["answered_name"]) == ("accepted", "R. Amsel")
    assert offer["answered_note"] == "after the 9th please"
    assert offer["answered_at"] == accepted.json()["answered_at"]


def test_a_customer_sees_prices_and_never_what_it_costs_the_firm(
    firm: Firm, worker: OwnWorker, customer: httpx.Client
) -> None:
    quote = _quoted(firm, worker, _job(firm))
    link = _sent(firm, quote)
    seen = customer.get(link)
    for word in ("unit_cost", "overhead", "profit", "contingency", "trace", "price_book"):
        assert word not in seen.text
    lines = sum(Decimal(n["price"]["amount"]) + Decimal(n["tax"]["amount"]) for n in seen.json()["lines"])
    assert lines == Decimal(seen.json()["total"]["amount"])


def test_the_same_answer_again_changes_nothing_and_another_is_refused(
    firm: Firm, worker: OwnWorker, customer: httpx.Client
) -> None:
    quote = _quoted(firm, worker, _job(firm))
    link = _sent(firm, quote)
    first = customer.post(f"{link}/accept", json=CUSTOMER)
    again = customer.post(f"{link}/accept", json=CUSTOMER)
    assert (first.status_code, again.status_code) == (200, 200)
    assert first.json() == again.json()
    other = customer.post(f"{link}/decline", json=CUSTOMER)
    assert code_of(other) == "quote-not-open"
    assert "accepted by R. Amsel already" in other.json()["detail"]


def test_of_many_answers_at_once_one_counts(firm: Firm, worker: OwnWorker, service: Service) -> None:
    quote = _quoted(firm, worker, _job(firm))
    link = _sent(firm, quote)

    def answer(k: int) -> int:
        verb = ("accept", "decline")[k % 2]
        return service.client().post(f"{link}/{verb}", json={"name": f"Person {k}"}).status_code

    with ThreadPoolExecutor(8) as pool:
        statuses = list(pool.map(answer, range(8)))
    assert sorted(statuses) == [200, *[409] * 7]
    offers = firm.client.get(quote).json()["offers"]
    assert [offer["answer"] for offer in offers] == [_state(firm, quote)]


def test_a_declined_quote_is_not_sent_again(firm: Firm, worker: OwnWorker, customer: httpx.Client) -> None:
    quote = _quoted(firm, worker, _job(firm))
    assert customer.post(f"{_sent(firm, quote)}/decline", json=CUSTOMER).status_code == 200
    assert _state(firm, quote) == "declined"
    assert code_of(firm.post(f"{quote}/send", LAST_DAY)) == "quote-not-open"


def test_sending_again_closes_the_link_before(firm: Firm, worker: OwnWorker, customer: httpx.Client) -> None:
    quote = _quoted(firm, worker, _job(firm))
    old, new = _sent(firm, quote), _sent(firm, quote)
    assert code_of(customer.get(old)) == "not-found"
    assert customer.get(new).json()["state"] == "sent"
    assert code_of(customer.post(f"{old}/accept", json=CUSTOMER)) == "not-found"


def test_a_repeated_sending_gives_the_same_link_and_leaves_it_open(
    firm: Firm, worker: OwnWorker, customer: httpx.Client
) -> None:
    quote = _quoted(firm, worker, _job(firm))
    key = str(uuid4())
    first = firm.post(f"{quote}/send", LAST_DAY, idempotency_key=key)
    again = firm.post(f"{quote}/send", LAST_DAY, idempotency_key=key)
    assert first.content == again.content
    assert customer.get(first.json()["link"]).status_code == 200
    assert len(firm.client.get(quote).json()["offers"]) == 1


def test_a_newer_quote_of_the_job_supersedes_the_one_that_was_sent(
    firm: Firm, worker: OwnWorker, customer: httpx.Client
) -> None:
    path = _job(firm)
    old, new = _quoted(firm, worker, path), _quoted(firm, worker, path)
    link = _sent(firm, old)
    _sent(firm, new)
    assert (_state(firm, old), _state(firm, new)) == ("superseded", "sent")
    assert code_of(customer.get(link)) == "not-found"
    listed = firm.client.get(f"/v1/quotes?job_id={path.rpartition('/')[2]}&state=superseded").json()
    assert [item["id"] for item in listed["items"]] == [old.rpartition("/")[2]]


def test_an_offer_ends_with_its_last_day_at_the_site(
    service: Service, firm: Firm, worker: OwnWorker, customer: httpx.Client
) -> None:
    quote = _quoted(firm, worker, _job(firm))
    yesterday = (datetime.now(UTC) - timedelta(days=2)).date().isoformat()
    past = firm.post(f"{quote}/send", {"valid_until": yesterday})
    assert code_of(past) == "quote-expired"
    assert _state(firm, quote) == "draft"
    slip = (datetime.now(UTC) + timedelta(days=3653)).date().isoformat()
    assert pointers_of(firm.post(f"{quote}/send", {"valid_until": slip})) == ["/valid_until"]
    key = parse_key(_sent(firm, quote).rpartition("/")[2], prefix=OFFER)
    assert key is not None
    with service.database.for_organisation(firm.organisation) as uow:
        offer = read_offer(uow, key=key).offer
        assert offer.valid_until.date().isoformat() > LAST_DAY["valid_until"]
        with pytest.raises(QuoteExpired, match="was valid until"):
            answer_offer(uow, key=key, answer="accepted", name="R. Amsel", note=None, now=offer.valid_until)
    assert shown_state("sent", (offer,), now=offer.valid_until) == "expired"
    _listed_as_expired(service, firm, offer)
    assert _state(firm, quote) == "sent"


def _listed_as_expired(service: Service, firm: Firm, offer: Offer) -> None:
    """From the moment that its last link is over, and not before."""

    def states(now: datetime, state: str | None = None) -> list[str]:
        with service.database.for_organisation(firm.organisation) as uow:
            found = uow.quotes.page(limit=9, before=None, job=None, state=state, now=now)
        return [item.state for item in found]

    over, before = offer.valid_until, offer.valid_until - timedelta(seconds=1)
    assert states(before) == states(before, "sent") == ["sent"]
    assert states(over) == states(over, "expired") == ["expired"]
    assert states(over, "sent") == states(before, "expired") == []


def test_a_job_is_promised_once_and_then_changed_by_order(
    firm: Firm, worker: OwnWorker, customer: httpx.Client
) -> None:
    path = _job(firm)
    first = _quoted(firm, worker, path)
    customer.post(f"{_sent(firm, first)}/accept", json=CUSTOMER)
    before = firm.client.get(first).content
    firm.post("/v1/price-books", {"prices": [{"code": "labour", "amount": "60.00"}]})
    second = _quoted(firm, worker, path)
    refused = firm.post(f"{second}/send", LAST_DAY)
    assert code_of(refused) == "quote-not-open"
    assert "make a change order" in refused.json()["detail"]

    answer = firm.post(f"{first}/change-orders", {"quote": second.rpartition("/")[2]})
    assert answer.status_code == 201, answer.text
    order = answer.json()
    _check("ChangeOrder", order)
    totals = [Decimal(firm.client.get(q).json()["total"]["amount"]) for q in (first, second)]
    assert totals[0] + Decimal(order["total"]["amount"]) == totals[1]
    reasons = {line["what"]: line["reason"] for line in order["document"]["change"]["lines"]}
    assert reasons["Clean"] == "its unit cost rose"

    link = _sent(firm, second)
    seen = customer.get(link).json()
    _check("Offer", seen)
    assert seen["change"]["total"] == order["total"]
    assert customer.post(f"{link}/accept", json=CUSTOMER).status_code == 200
    assert (_state(firm, first), _state(firm, second)) == ("accepted", "accepted")
    after = firm.client.get(first).json()
    assert after.pop("changed_by") == [order["links"]["self"]]
    kept = httpx.Response(200, content=before).json()
    kept.pop("changed_by")
    assert after == kept


def test_what_was_changed_already_is_changed_from_there(
    firm: Firm, worker: OwnWorker, customer: httpx.Client
) -> None:
    path = _job(firm)
    first = _quoted(firm, worker, path)
    customer.post(f"{_sent(firm, first)}/accept", json=CUSTOMER)
    second = _quoted(firm, worker, path)
    firm.post(f"{first}/change-orders", {"quote": second.rpartition("/")[2]})
    customer.post(f"{_sent(firm, second)}/accept", json=CUSTOMER)
    third = _quoted(firm, worker, path)
    wrong = firm.post(f"{first}/change-orders", {"quote": third.rpartition("/")[2]})
    assert code_of(wrong) == "quotes-apart"
    right = firm.post(f"{second}/change-orders", {"quote": third.rpartition("/")[2]})
    assert right.status_code == 201, right.text


def test_orders_between_quotes_that_do_not_belong_together_are_refused(
    firm: Firm, worker: OwnWorker, customer: httpx.Client
) -> None:
    mine, other = _quoted(firm, worker, _job(firm)), _quoted(firm, worker, _job(firm))
    body = {"quote": other.rpartition("/")[2]}
    assert code_of(firm.post(f"{mine}/change-orders", body)) == "quote-not-open"
    customer.post(f"{_sent(firm, mine)}/accept", json=CUSTOMER)
    assert code_of(firm.post(f"{mine}/change-orders", body)) == "quotes-apart"
    assert code_of(firm.post(f"{mine}/change-orders", {"quote": str(uuid4())})) == "not-found"
    own = firm.post(f"{mine}/change-orders", {"quote": mine.rpartition("/")[2]})
    assert code_of(own) == "quote-not-open"


@pytest.mark.parametrize(
    "spoil",
    [
        lambda link: link[:-1],
        lambda link: f"{link[:-1]}{'b' if link[-1] == 'a' else 'a'}",
        lambda link: link.replace("offer_", "slab_"),
        lambda link: f"{link}x",
    ],
)
def test_a_spoilt_link_leads_nowhere(
    firm: Firm, worker: OwnWorker, customer: httpx.Client, spoil: Any
) -> None:
    link = _sent(firm, _quoted(firm, worker, _job(firm)))
    assert code_of(customer.get(spoil(link))) == "not-found"


def test_a_link_is_no_key_and_a_key_no_link(firm: Firm, worker: OwnWorker, service: Service) -> None:
    link = _sent(firm, _quoted(firm, worker, _job(firm)))
    text = link.rpartition("/")[2]
    assert code_of(service.client(text).get("/v1/quotes")) == "unauthenticated"
    assert code_of(service.client().get(f"/v1/offers/{firm.key}")) == "not-found"


def test_an_answer_without_a_name_is_refused_by_field(
    firm: Firm, worker: OwnWorker, customer: httpx.Client
) -> None:
    link = _sent(firm, _quoted(firm, worker, _job(firm)))
    assert pointers_of(customer.post(f"{link}/accept", json={})) == ["/name"]
    assert pointers_of(customer.post(f"{link}/accept", json={"name": ""})) == ["/name"]
    assert customer.get(link).json()["state"] == "sent"


def test_a_crew_lead_sends_no_quotes(service: Service, firm: Firm) -> None:
    lead = service.key(firm.organisation, "crew-lead")
    answer = lead.post(f"/v1/quotes/{uuid4()}/send", json={}, headers={"idempotency-key": str(uuid4())})
    assert code_of(answer) == "forbidden"


def test_a_quote_of_a_job_posted_inline_is_sent_and_accepted_too(
    firm: Firm, worker: OwnWorker, customer: httpx.Client
) -> None:
    estimate = firm.post("/v1/estimates", valid_job(options=OPTIONS)).headers["location"]
    worker.work_off()
    (quote,) = firm.client.get(estimate).json()["links"]["quotes"]
    assert customer.post(f"{_sent(firm, quote)}/accept", json=CUSTOMER).status_code == 200
    assert _state(firm, quote) == "accepted"

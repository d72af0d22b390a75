"""The firm's own books: each post is a new version, merged over what counted before."""

import json
from decimal import Decimal
from typing import Any
from uuid import UUID

import pytest

from slab_app.codec import Encoded, decode
from slab_core.job import Job
from tests.support.api import Firm, Service, valid_job
from tests.support.problems import code_of, pointers_of
from tests.support.records import job_record


def _posted_job(service: Service, firm: Firm, **changes: Any) -> Job:
    answer = firm.post("/v1/estimates", valid_job(**changes))
    assert answer.status_code == 202, answer.text
    with service.database.for_organisation(firm.organisation) as uow:
        stored = uow.runs.input(run_id=UUID(answer.json()["id"]))
    assert stored is not None
    return decode(Job, Encoded(json=stored.json, arrays=stored.arrays))


def test_a_firm_without_books_of_its_own_has_the_starters(service: Service, firm: Firm) -> None:
    job = _posted_job(service, firm, currency="CAD")
    assert job.price_book.currency == "CAD"
    assert {job.catalogue.version, job.rates.version, job.calendar.version} == {"starter-1"}


@pytest.mark.parametrize("kind", ["price-books", "catalogues", "rates", "calendars"])
def test_an_empty_document_makes_a_version_that_equals_the_starter(
    service: Service, firm: Firm, kind: str
) -> None:
    made = firm.post(f"/v1/{kind}", {})
    assert made.status_code == 201, made.text
    before = _posted_job(service, service.firm())
    after = _posted_job(service, firm)
    name = {"price-books": "price_book", "catalogues": "catalogue", "rates": "rates", "calendars": "calendar"}
    one, other = getattr(before, name[kind]), getattr(after, name[kind])
    assert other.version == made.json()["id"]
    fields = [field for field in one.__dataclass_fields__ if field not in ("version", "source")]
    assert [getattr(one, field) for field in fields] == [getattr(other, field) for field in fields]


def test_a_partial_document_changes_what_it_names_and_keeps_the_rest(firm: Firm) -> None:
    first = firm.post("/v1/catalogues", {"compound": {"waste_share": 0.05}}).json()["document"]
    second = firm.post("/v1/catalogues", {"primer": {"dry_hours": 3}}).json()["document"]
    assert second["compound"]["waste_share"] == 0.05
    assert second["primer"]["dry_hours"] == 3
    assert {**second, "primer": first["primer"]} == first
    again = firm.post("/v1/catalogues", {"based_on": "starter"}).json()["document"]
    assert again["compound"]["waste_share"] != 0.05


def test_prices_are_merged_by_code(firm: Firm) -> None:
    before = firm.post("/v1/price-books", {}).json()["document"]["prices"]
    code = before[0]["code"]
    answer = firm.post("/v1/price-books", {"prices": [{"code": code, "amount": "61.25"}]})
    after = {price["code"]: price for price in answer.json()["document"]["prices"]}
    assert len(after) == len(before)
    assert Decimal(after[code]["amount"]) == Decimal("61.25")
    assert after[code]["unit"] == before[0]["unit"]


def test_the_newest_valid_price_book_counts_and_a_named_one_before_it(service: Service, firm: Firm) -> None:
    old = firm.post("/v1/price-books", {"valid_from": "2025-01-01", "valid_to": "2025-12-31"}).json()["id"]
    new = firm.post("/v1/price-books", {"valid_from": "2026-01-01", "valid_to": "2026-12-31"}).json()["id"]
    for day, book in (("2025-06-01", old), ("2026-06-01", new)):
        assert _posted_job(service, firm, options={"pricing_date": day}).price_book.version == book
    newer = firm.post("/v1/price-books", {"valid_from": "2026-03-01", "valid_to": "2026-12-31"}).json()["id"]
    june = {"pricing_date": "2026-06-01"}
    assert _posted_job(service, firm, options=june).price_book.version == newer
    assert _posted_job(service, firm, options=june, price_book=new).price_book.version == new
    wrong = firm.post("/v1/estimates", valid_job(options=june, price_book=old))
    assert pointers_of(wrong) == ["/price_book"]


def test_a_day_outside_the_firm_s_price_books_is_refused_and_never_priced_with_the_starter(
    service: Service, firm: Firm
) -> None:
    later = {"pricing_date": "2027-06-01"}
    assert _posted_job(service, firm, options=later).price_book.version == "starter-1"
    firm.post("/v1/price-books", {"valid_from": "2026-01-01", "valid_to": "2026-12-31"})
    refused = firm.post("/v1/estimates", valid_job(options=later))
    assert pointers_of(refused) == ["/options/pricing_date"]
    assert "valid from 2026-01-01 to 2026-12-31" in refused.json()["errors"][0]["detail"]
    open_end = firm.post("/v1/price-books", {"valid_to": "2028-12-31"}).json()["id"]
    assert _posted_job(service, firm, options=later).price_book.version == open_end


def test_a_price_book_in_another_currency_than_the_jobs_is_refused(firm: Firm) -> None:
    book = firm.post("/v1/price-books", {"currency": "EUR"}).json()["id"]
    answer = firm.post("/v1/estimates", valid_job(currency="USD", price_book=book))
    assert pointers_of(answer) == ["/currency"]


@pytest.mark.parametrize(
    ("kind", "document", "where"),
    [
        ("price-books", {"valid_from": "2026-02-01", "valid_to": "2026-01-01"}, "/valid_to"),
        ("price-books", {"currency": "usd"}, "/currency"),
        ("price-books", {"profit_kind": "margin", "profit_share": "1"}, "/profit_share"),
        ("price-books", {"overhead_share": "-0.1"}, "/overhead_share"),
        ("price-books", {"risk_level": "80"}, "/risk_level"),
        ("price-books", {"price_spread": "3"}, "/price_spread"),
        ("price-books", {"deposit_share": "0.3"}, "/progress_draws"),
        (
            "price-books",
            {"progress_draws": [{"milestone": " ", "share": "1"}]},
            "/progress_draws/0/milestone",
        ),
        (
            "price-books",
            {"deposit_share": "0.7", "progress_draws": [{"milestone": "after corection", "share": "0.3"}]},
            "/progress_draws/0/milestone",
        ),
        ("price-books", {"prices": [{"code": "trip", "tax_class": "travel"}]}, "/prices/0/tax_class"),
        ("price-books", {"tax_rates": {"matrial": "0.08"}}, "/tax_rates/matrial"),
        (
            "price-books",
            {"tax_places": [{"place": "North County", "rates": {"matrial": "0.08"}}]},
            "/tax_places/0/rates/matrial",
        ),
        ("rates", {"spreads": {"labour": 15}}, "/spreads/labour"),
        ("price-books", {"prices": [{"code": "own-work"}]}, "/prices/0"),
        (
            "price-books",
            {"prices": [{"code": "trip", "amount": "80"}, {"code": "trip", "amount": "90"}]},
            "/prices/1/code",
        ),
        ("price-books", {"profit_kind": "greed"}, "/profit_kind"),
        ("catalogues", {"compound": {"package": {"size": 0}}}, "/compound/package/size"),
        ("catalogues", {"compund": {}}, "/compund"),
        ("rates", {"people": "three"}, "/people"),
        ("rates", {"bags_per_hour": 0}, "/bags_per_hour"),
        ("calendars", {"time_zone": "Nowhere"}, "/time_zone"),
        ("calendars", {"shifts": [{"weekday": "monday", "from": "17:00", "to": "08:00"}]}, "/shifts/0/to"),
        (
            "calendars",
            {"shifts": [{"weekday": "funday", "from": "07:00", "to": "08:00"}]},
            "/shifts/0/weekday",
        ),
        ("calendars", {"holidays": ["2026-02-30"]}, "/holidays/0"),
    ],
)
def test_a_version_that_cannot_be_is_refused_with_the_place(
    firm: Firm, kind: str, document: dict[str, Any], where: str
) -> None:
    answer = firm.post(f"/v1/{kind}", document)
    assert code_of(answer) == "invalid-document", answer.text
    assert any(pointer.startswith(where) for pointer in pointers_of(answer)), answer.text
    assert firm.client.get(f"/v1/{kind}").json()["items"] == []


def test_an_estimate_keeps_the_versions_and_moments_it_was_posted_with(service: Service, firm: Firm) -> None:
    job = _posted_job(service, firm, site={"time_zone": "Pacific/Auckland"})
    assert job.calendar.time_zone == "Pacific/Auckland"
    assert job.earliest_start.utcoffset() is not None
    posted = firm.client.get("/v1/estimates").json()["items"][0]["posted_at"]
    assert job.earliest_start.isoformat() > posted[:10]


def test_the_record_of_a_job_may_pin_versions_too(service: Service, firm: Firm) -> None:
    rates = firm.post("/v1/rates", {"people": 5}).json()["id"]
    firm.post("/v1/rates", {"people": 2})
    made = firm.post("/v1/jobs", job_record(rates=rates))
    assert made.json()["document"]["rates"] == rates
    assert _posted_job(service, firm, rates=rates).rates.people == 5
    assert _posted_job(service, firm).rates.people == 2
    assert json.loads(made.text)["version"] == 1

"""The firm's store: what one job leaves the next one uses, and nothing of it is spent twice."""

from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID, uuid4

import httpx
import jsonschema
import pytest
from psycopg.errors import CheckViolation

from slab_api.app import bare_app
from slab_api.openapi import openapi_document
from slab_app.codec import Encoded, decode
from slab_base.ids import new_id
from slab_core.job import Job
from tests.support.api import Firm, Service, valid_job
from tests.support.own_worker import OwnWorker
from tests.support.problems import code_of, pointers_of
from tests.support.records import job_record, room_record, survey_record

GLUE = "wood-adhesive"
OPTIONS = {"seed": 1, "pricing_date": "2026-03-02", "earliest_start": "2026-03-03T08:00:00-07:00"}
LAST_DAY = (datetime.now(UTC) + timedelta(days=20)).date().isoformat()
_DOCUMENT = openapi_document(bare_app(base_url="http://x"))


def _check(schema: str, value: Any) -> None:
    whole = {"$ref": f"#/components/schemas/{schema}", "components": _DOCUMENT["components"]}
    jsonschema.Draft202012Validator(whole).validate(value)


def _add(firm: Firm, **posted: Any) -> str:
    answer = firm.post("/v1/stock", {"product": GLUE, **posted})
    assert answer.status_code == 201, answer.text
    _check("StockEntry", answer.json())
    return str(answer.headers["location"])


def _free(firm: Firm, entry: str) -> tuple[int, float]:
    """What the entry says, which is what its moves add up to."""
    found, moves = firm.client.get(entry).json(), firm.client.get(f"{entry}/moves").json()["items"]
    sums = tuple(sum(move[name] for move in moves) for name in ("packages", "opened"))
    assert (found["packages"], found["opened"]) == pytest.approx(sums)
    return found["packages"], found["opened"]


def _asking(**more: Any) -> dict[str, Any]:
    return valid_job(options=OPTIONS, scope={**valid_job().get("scope", {}), "use_firm_stock": True, **more})


def _quote(firm: Firm, worker: OwnWorker, posted: dict[str, Any], path: str = "/v1/estimates") -> str:
    answer = firm.post(path, posted)
    assert answer.status_code == 202, answer.text
    worker.work_off()
    (quote,) = firm.client.get(answer.headers["location"]).json()["links"]["quotes"]
    return str(quote)


def _link(firm: Firm, quote: str) -> str:
    return str(firm.post(f"{quote}/send", {"valid_until": LAST_DAY}).json()["link"])


def _accept(client: httpx.Client, link: str) -> int:
    return client.post(f"{link}/accept", json={"name": "R. Amsel"}).status_code


def _stock(firm: Firm, quote: str) -> Any:
    record = firm.client.get(quote).json()
    _check("Quote", record)
    return record["firm_stock"]


def _bought(firm: Firm, quote: str, product: str = GLUE) -> float:
    lines = firm.client.get(quote).json()["document"]["quote"]["lines"]
    return sum(
        float(line["quantity"])
        for line in lines
        if line["kind"] == "material" and line["key"]["product"] == product
    )


def _glue(packages: int, opened: float = 0.0) -> list[dict[str, Any]]:
    return [{"product": GLUE, "packages": packages, "opened": opened}]


def test_what_comes_in_is_kept_once_and_listed(firm: Firm) -> None:
    posted = {"product": GLUE, "packages": 3, "opened": 0.25, "use_by": "2999-01-31", "note": "from the van"}
    key = str(uuid4())
    first = firm.post("/v1/stock", posted, idempotency_key=key)
    assert first.status_code == 201, first.text
    assert firm.post("/v1/stock", posted, idempotency_key=key).content == first.content
    (item,) = firm.client.get("/v1/stock").json()["items"]
    assert item == first.json() == firm.client.get(first.headers["location"]).json()
    assert (item["packages"], item["opened"]) == (3, 0.25)
    (move,) = firm.client.get(item["links"]["moves"]).json()["items"]
    _check("StockMove", move)
    assert (move["kind"], move["packages"], move["opened"]) == ("came-in", 3, 0.25)


@pytest.mark.parametrize(
    ("posted", "pointers"),
    [
        ({"product": "wood-adhesiv", "packages": 1}, ["/product"]),
        ({"product": GLUE}, ["/packages"]),
        ({"product": GLUE, "packages": -1, "opened": 0.1234}, ["/packages", "/opened"]),
        ({"product": GLUE, "packages": 1, "use_by": "soon"}, ["/use_by"]),
    ],
)
def test_stock_that_cannot_be_is_refused_where_it_stands(
    firm: Firm, posted: dict[str, Any], pointers: list[str]
) -> None:
    answer = firm.post("/v1/stock", posted)
    assert answer.status_code == 422, answer.text
    assert pointers_of(answer) == pointers
    assert firm.client.get("/v1/stock").json()["items"] == []


def test_boards_are_no_product_of_the_catalogue_and_come_in_as_a_covering(firm: Firm) -> None:
    boards = {"product": "oak-strip-5in", "packages": 2}
    answer = firm.post("/v1/stock", boards)
    assert "covering: true" in answer.text
    assert firm.post("/v1/stock", {**boards, "covering": True}).status_code == 201


def test_twenty_who_take_the_last_five_at_once_get_five(service: Service, firm: Firm) -> None:
    entry = _add(firm, packages=5)

    def take(_: int) -> httpx.Response:
        with service.client(firm.key) as client:
            body = {"packages": -1, "note": "taken to a site by hand"}
            return client.post(f"{entry}/corrections", json=body, headers={"idempotency-key": str(uuid4())})

    with ThreadPoolExecutor(20) as pool:
        answers = list(pool.map(take, range(20)))
    made = [answer for answer in answers if answer.status_code == 201]
    assert len(made) == 5
    refused = next(answer for answer in answers if answer.status_code != 201)
    assert code_of(refused) == "stock-short"
    assert pointers_of(refused) == ["/packages"]
    assert _free(firm, entry) == (0, 0.0)
    assert firm.client.get("/v1/stock").json()["items"] == []
    assert len(firm.client.get("/v1/stock?used_up=true").json()["items"]) == 1
    page = firm.client.get(f"{entry}/moves?page_size=4").json()
    rest = firm.client.get(f"{entry}/moves", params={"page_size": 4, "cursor": page["next"]}).json()
    assert [len(page["items"]), len(rest["items"]), rest["next"]] == [4, 2, None]


def test_an_entry_is_not_corrected_to_more_than_any_store_holds(firm: Firm) -> None:
    entry = _add(firm, packages=100_000, opened=1000)
    for _ in range(9):
        more = firm.post(f"{entry}/corrections", {"packages": 100_000, "note": "counted again"})
        assert more.status_code == 201
    absurd = firm.post(f"{entry}/corrections", {"packages": 1, "note": "one more"})
    assert pointers_of(absurd) == ["/packages"]
    nothing = firm.post(f"{entry}/corrections", {"note": "counted, and right"})
    assert pointers_of(nothing) == ["/packages"]


def test_the_database_itself_lets_no_entry_go_below_nothing(service: Service, firm: Firm) -> None:
    entry = UUID(_add(firm, packages=1).rpartition("/")[2])
    with pytest.raises(CheckViolation), service.database.for_organisation(firm.organisation) as uow:
        uow.stock.move(
            id=new_id(),
            entry=entry,
            kind="corrected",
            packages=-2,
            opened_thousandths=0,
            quote=None,
            actor="test",
            trace_id="",
        )


def test_a_job_that_asks_plans_with_what_is_free_and_not_expired(
    service: Service, firm: Firm, worker: OwnWorker
) -> None:
    plain = _bought(firm, _quote(firm, worker, valid_job(options=OPTIONS)))
    assert plain >= 1
    _add(firm, packages=1, use_by="2026-03-02")  # the day before the job begins
    assert _bought(firm, _quote(firm, worker, _asking())) == plain
    entry = _add(firm, packages=1, use_by="2999-01-31")
    posted = firm.post("/v1/estimates", _asking())
    with service.database.for_organisation(firm.organisation) as uow:
        kept = uow.runs.input(run_id=UUID(posted.json()["id"]))
    assert kept is not None
    job = decode(Job, Encoded(json=kept.json, arrays=kept.arrays))
    assert [(one.product, one.packages, one.of_firm) for one in job.scope.stock] == [(GLUE, 1, True)]
    quote = _quote(firm, worker, _asking())
    assert _bought(firm, quote) == plain - 1
    assert _stock(firm, quote) == {"planned": _glue(1), "held": [], "lacking": []}
    assert _free(firm, entry) == (1, 0.0), "nothing is set aside before the quote is accepted"
    without = _quote(firm, worker, valid_job(options=OPTIONS))
    assert (_bought(firm, without), _stock(firm, without)) == (plain, None)


def test_stock_that_the_job_has_no_use_for_is_no_warning_of_it(firm: Firm, worker: OwnWorker) -> None:
    _add(firm, product="patch", packages=2)
    path = firm.post("/v1/estimates", _asking()).headers["location"]
    worker.work_off()
    codes = {problem["code"] for problem in firm.client.get(path).json()["problems"]}
    assert not codes & {"stock-unused", "stock-expired"}


def test_an_accepted_quote_holds_it_and_the_next_one_is_told_what_is_lacking(
    service: Service, firm: Firm, worker: OwnWorker
) -> None:
    entry = _add(firm, packages=1)
    first, second = (_quote(firm, worker, _asking()) for _ in range(2))
    link, other = _link(firm, first), _link(firm, second)
    assert _accept(service.client(), link) == 200
    assert _stock(firm, first) == {"planned": _glue(1), "held": _glue(1), "lacking": []}
    assert _free(firm, entry) == (0, 0.0)
    assert _accept(service.client(), link) == 200, "the same answer again"
    assert _free(firm, entry) == (0, 0.0)
    (short,) = _stock(firm, second)["lacking"]
    assert "1 packages of wood-adhesive" in short["detail"]
    assert _accept(service.client(), other) == 200, "a customer's acceptance waits for no pail"
    assert _stock(firm, second) == {"planned": _glue(1), "held": [], "lacking": [short]}
    (move, _) = firm.client.get(f"{entry}/moves").json()["items"]
    assert (move["kind"], move["packages"], move["links"]["quote"]) == ("reserved", -1, first)
    third = _quote(firm, worker, _asking())
    assert _stock(firm, third) is None


@pytest.mark.parametrize(("packages", "opened"), [(1, 0.0), (0, 0.95)])
def test_six_jobs_accepted_at_once_never_share_a_package(
    service: Service, firm: Firm, worker: OwnWorker, packages: int, opened: float
) -> None:
    entry = _add(firm, packages=packages, opened=opened)
    quotes = [_quote(firm, worker, _asking()) for _ in range(6)]
    assert {str(_stock(firm, quote)["planned"]) for quote in quotes} == {str(_glue(packages, opened))}
    links = [_link(firm, quote) for quote in quotes]
    clients = [service.client() for _ in links]
    with ThreadPoolExecutor(len(links)) as pool:
        assert set(pool.map(_accept, clients, links)) == {200}
    stocks = [_stock(firm, quote) for quote in quotes]
    assert [stock["held"] for stock in stocks if not stock["lacking"]] == [_glue(packages, opened)]
    assert sum(len(stock["held"]) for stock in stocks) == 1
    assert _free(firm, entry) == (0, 0.0)


def test_what_remains_from_one_job_is_used_by_the_next(
    service: Service, firm: Firm, worker: OwnWorker
) -> None:
    quote = _quote(firm, worker, _asking())
    plain = _bought(firm, quote)
    _accept(service.client(), _link(firm, quote))
    seen = firm.client.get(f"{quote}/work-lines").json()
    _check("WorkLines", seen)
    (material,) = [one for one in seen["materials"] if one["product"] == GLUE]
    assert material["package"] == "pail"
    told = {
        "crew": "north",
        "finished_on": "2026-03-20",
        "actuals": [{"key": seen["lines"][0]["key"], "quantity": 1.0}],
        "left_over": [{"product": GLUE, "packages": 1, "use_by": "2999-01-31"}],
    }
    closeout = firm.post(f"{quote}/closeouts", told)
    assert closeout.status_code == 201, closeout.text
    _check("Closeout", closeout.json())
    assert closeout.json()["left_over"] == [{**_glue(1)[0], "use_by": "2999-01-31"}]
    (entry,) = firm.client.get("/v1/stock").json()["items"]
    assert entry["links"]["closeout"] == closeout.headers["location"]
    following = _quote(firm, worker, _asking())
    assert _bought(firm, following) == plain - 1
    _accept(service.client(), _link(firm, following))
    assert _free(firm, entry["links"]["self"]) == (0, 0.0)


def test_what_is_left_is_told_once_and_later_closeouts_double_nothing(
    service: Service, firm: Firm, worker: OwnWorker
) -> None:
    quote = _quote(firm, worker, valid_job(options=OPTIONS))
    _accept(service.client(), _link(firm, quote))
    key = firm.client.get(f"{quote}/work-lines").json()["lines"][0]["key"]
    told = {"crew": "north", "finished_on": "2026-03-20", "actuals": [{"key": key, "quantity": 1.0}]}
    silent = firm.post(f"{quote}/closeouts", told).json()
    assert silent["left_over"] is None
    wrong = [{"product": "gold-leaf", "packages": 1}, {"product": GLUE}]
    refused = firm.post(f"{quote}/closeouts", {**told, "left_over": wrong})
    assert pointers_of(refused) == ["/left_over/0/product", "/left_over/1"]
    left = [{"product": GLUE, "packages": 0, "opened": 0.4}]
    for _ in range(2):
        assert firm.post(f"{quote}/closeouts", {**told, "left_over": left}).status_code == 201
    (entry,) = firm.client.get("/v1/stock").json()["items"]
    assert (entry["packages"], entry["opened"]) == (0, 0.4)
    other = firm.post(f"{quote}/closeouts", {**told, "left_over": []})
    assert code_of(other) == "left-over-told"
    assert entry["links"]["self"] in other.json()["detail"]
    assert firm.post(f"{quote}/closeouts", told).status_code == 201
    assert len(firm.client.get(quote).json()["closeouts"]) == 4


def test_two_closeouts_at_once_bring_what_is_left_in_once(
    service: Service, firm: Firm, worker: OwnWorker
) -> None:
    quote = _quote(firm, worker, valid_job(options=OPTIONS))
    _accept(service.client(), _link(firm, quote))
    key = firm.client.get(f"{quote}/work-lines").json()["lines"][0]["key"]
    told = {
        "crew": "north",
        "finished_on": "2026-03-20",
        "actuals": [{"key": key, "quantity": 1.0}],
        "left_over": [{"product": GLUE, "packages": 1}],
    }

    def tell(_: int) -> int:
        with service.client(firm.key) as client:
            headers = {"idempotency-key": str(uuid4())}
            return client.post(f"{quote}/closeouts", json=told, headers=headers).status_code

    with ThreadPoolExecutor(4) as pool:
        assert set(pool.map(tell, range(4))) == {201}
    (entry,) = firm.client.get("/v1/stock").json()["items"]
    assert entry["packages"] == 1


def _recorded(firm: Firm) -> str:
    """A job with its room and survey, that asks for the firm's stock."""
    job: str = firm.post("/v1/jobs", job_record(scope={"use_firm_stock": True})).json()["id"]
    firm.post(f"/v1/jobs/{job}/rooms", room_record())
    survey = firm.post(f"/v1/jobs/{job}/surveys", survey_record()).json()["id"]
    assert firm.client.post(f"/v1/surveys/{survey}/close", json={"chunks": 0}).status_code == 200
    return f"/v1/jobs/{job}/estimates"


def test_a_change_order_s_quote_takes_over_what_the_first_one_held(
    service: Service, firm: Firm, worker: OwnWorker
) -> None:
    entry = _add(firm, packages=1)
    path = _recorded(firm)
    first = _quote(firm, worker, {"options": OPTIONS}, path)
    _accept(service.client(), _link(firm, first))
    assert _free(firm, entry) == (0, 0.0)
    second = _quote(firm, worker, {"options": {**OPTIONS, "seed": 2}}, path)
    assert _stock(firm, second) == {"planned": _glue(1), "held": [], "lacking": []}
    order = firm.post(f"{first}/change-orders", {"quote": second.rpartition("/")[2]})
    assert order.status_code == 201, order.text
    assert _stock(firm, second)["lacking"] == []
    assert _accept(service.client(), _link(firm, second)) == 200
    assert _stock(firm, second) == {"planned": _glue(1), "held": _glue(1), "lacking": []}
    assert _stock(firm, first) == {"planned": _glue(1), "held": [], "lacking": []}
    assert _free(firm, entry) == (0, 0.0)
    kinds = [move["kind"] for move in firm.client.get(f"{entry}/moves").json()["items"]]
    assert kinds == ["reserved", "given-back", "reserved", "came-in"]


def test_a_price_change_recomputes_no_other_stage(firm: Firm, worker: OwnWorker) -> None:
    _add(firm, packages=1)
    before = _digests(firm, worker)
    prices = firm.post("/v1/price-books", {}).json()["document"]["prices"]
    dearer = {"code": prices[0]["code"], "amount": "99.00"}
    assert firm.post("/v1/price-books", {"prices": [dearer]}).status_code == 201
    assert _digests(firm, worker) == before


def _digests(firm: Firm, worker: OwnWorker) -> list[str]:
    path = firm.post("/v1/estimates", _asking()).headers["location"]
    worker.work_off()
    return [firm.client.get(f"{path}/{stage}").json()["digest"] for stage in ("takeoff", "schedule")]


def test_a_crew_lead_sees_what_is_there_and_changes_nothing(service: Service, firm: Firm) -> None:
    entry = _add(firm, packages=1)
    lead = service.key(firm.organisation, "crew-lead")
    assert lead.get(entry).json()["packages"] == 1
    headers = {"idempotency-key": str(uuid4())}
    answer = lead.post("/v1/stock", json={"product": GLUE, "packages": 1}, headers=headers)
    assert code_of(answer) == "forbidden"

"""The whole line over HTTP: from a posted job to results and a quote, computed by the real maths."""

import json
import time
from concurrent.futures import ThreadPoolExecutor
from decimal import Decimal
from typing import Any

import jsonschema
import nanoarrow
import numpy as np
import pytest
from nanoarrow.ipc import InputStream

from slab_api.app import bare_app
from slab_api.openapi import openapi_document
from slab_api.results.columns import GRIDDED
from slab_core.stages import STAGES
from tests.support.api import Firm, Service, valid_job
from tests.support.own_worker import OwnWorker
from tests.support.problems import code_of

ARROW = "application/vnd.apache.arrow.stream"
_DOCUMENT = openapi_document(bare_app(base_url="http://x"))


@pytest.fixture(scope="module")
def estimate(owner: Firm, worker: OwnWorker) -> dict[str, Any]:
    path = owner.post("/v1/estimates", valid_job()).headers["location"]
    worker.work_off()
    finished: dict[str, Any] = owner.client.get(path).json()
    return finished


def _check(schema: str, value: Any) -> None:
    whole = {"$ref": f"#/components/schemas/{schema}", "components": _DOCUMENT["components"]}
    jsonschema.Draft202012Validator(whole).validate(value)


def test_the_estimate_completes_with_every_step_timed(estimate: dict[str, Any]) -> None:
    assert estimate["state"] == "completed", estimate["problems"]
    assert {step["state"] for step in estimate["steps"]} == {"done"}
    assert all(step["ms"] >= 0 for step in estimate["steps"])
    _check("Estimate", estimate)


@pytest.mark.parametrize("stage", [stage.name for stage in STAGES if stage.subject != "scan"])
def test_each_stages_result_is_as_the_contract_says(
    owner: Firm, estimate: dict[str, Any], stage: str
) -> None:
    answer = owner.client.get(estimate["links"][stage])
    assert answer.status_code == 200, answer.text
    schema = _DOCUMENT["paths"][f"/v1/estimates/{{id}}/{stage}"]["get"]["responses"]["200"]["content"]
    _check(schema["application/json"]["schema"]["$ref"].rpartition("/")[2], answer.json())
    again = owner.client.get(estimate["links"][stage], headers={"if-none-match": answer.headers["etag"]})
    assert again.status_code == 304


@pytest.mark.parametrize("stage", GRIDDED)
def test_the_whole_grid_comes_as_columns_and_agrees_with_the_thinned_one(
    owner: Firm, estimate: dict[str, Any], stage: str
) -> None:
    thinned = owner.client.get(estimate["links"][stage]).json()
    answer = owner.client.get(estimate["links"][stage], headers={"accept": ARROW})
    assert answer.headers["content-type"] == ARROW
    with InputStream.from_readable(answer.content) as source:
        rows = nanoarrow.ArrayStream(source).read_all().to_pylist()
    nodes = thinned["nodes"]
    name = {"surface": "height_mm", "tolerance": "departure_1_mm", "correction": "fill_mm"}[stage]
    result = thinned["result"]
    given = result["rules"][0]["departure_mm"] if stage == "tolerance" else result[name]
    assert (len(given), len(given[0])) == (nodes["ny"], nodes["nx"])
    lookup = {(round(row["x_m"], 6), round(row["y_m"], 6)): row[name] for row in rows}
    for j in (0, nodes["ny"] - 1):
        for i in (0, nodes["nx"] - 1):
            x, y = nodes["x0_m"] + i * nodes["step_m"], nodes["y0_m"] + j * nodes["step_m"]
            np.testing.assert_allclose(lookup[(round(x, 6), round(y, 6))], given[j][i], atol=1e-9)


def test_the_quote_adds_up_and_is_the_same_in_its_own_record(owner: Firm, estimate: dict[str, Any]) -> None:
    (total,) = estimate["quotes"]
    (path,) = estimate["links"]["quotes"]
    quote = owner.client.get(path).json()
    _check("Quote", quote)
    assert quote["total"] == total["total"]
    document = quote["document"]["quote"]
    lines = sum(
        Decimal(line["price"]["amount"]) + Decimal(line["tax"]["amount"]) for line in document["lines"]
    )
    assert lines == Decimal(document["total"]["amount"]) == Decimal(quote["total"]["amount"])
    result = owner.client.get(estimate["links"]["quote"]).json()["result"]
    problems, said = result.pop("problems"), document.pop("problems")
    assert [problem["code"] for problem in problems] == [problem["code"] for problem in said]
    assert result == document


def test_a_client_that_waits_gets_the_finished_estimate_at_once(service: Service, worker: OwnWorker) -> None:
    firm = service.firm()
    with ThreadPoolExecutor(1) as pool:
        waiting = pool.submit(firm.post, "/v1/estimates", valid_job(), prefer="wait=30")
        while not waiting.done():
            worker.work_off()
            time.sleep(0.01)
    answer = waiting.result()
    assert answer.status_code == 200, answer.text
    assert answer.headers["preference-applied"] == "wait=30"
    assert answer.json()["state"] == "completed"
    assert answer.json()["quotes"][0]["total"]["currency"] == "USD"


def test_quotes_are_numbered_one_after_the_other(service: Service, worker: OwnWorker) -> None:
    firm = service.firm()
    paths = [firm.post("/v1/estimates", valid_job()).headers["location"] for _ in range(3)]
    worker.work_off()
    numbers = [firm.client.get(path).json()["quotes"][0]["number"] for path in paths]
    assert sorted(numbers) == [1, 2, 3]


def test_a_price_change_alone_computes_nothing_but_prices(service: Service, worker: OwnWorker) -> None:
    firm = service.firm()
    options = {"seed": 1, "pricing_date": "2026-03-02", "earliest_start": "2026-03-03T08:00:00-07:00"}
    first = firm.post("/v1/estimates", valid_job(options=options)).headers["location"]
    worker.work_off()
    book = firm.post("/v1/price-books", {"profit_share": "0.5", "valid_from": "2026-01-01"})
    assert book.status_code == 201, book.text
    second = firm.post("/v1/estimates", valid_job(options=options)).headers["location"]
    worker.work_off()
    one, other = (firm.client.get(path).json() for path in (first, second))
    assert [step["stage"] for step in other["steps"] if step["ms"]] == ["quote"]
    totals = [Decimal(e["quotes"][0]["total"]["amount"]) for e in (one, other)]
    assert totals[0] < totals[1]


def test_a_risk_level_puts_an_allowance_into_the_price_and_computes_nothing_but_prices(
    service: Service, worker: OwnWorker
) -> None:
    firm = service.firm()
    options = {"seed": 1, "pricing_date": "2026-03-02", "earliest_start": "2026-03-03T08:00:00-07:00"}
    first = firm.post("/v1/estimates", valid_job(options=options)).headers["location"]
    worker.work_off()
    book = firm.post("/v1/price-books", {"risk_level": "0.8", "valid_from": "2026-01-01"})
    assert book.status_code == 201, book.text
    second = firm.post("/v1/estimates", valid_job(options=options)).headers["location"]
    worker.work_off()
    assert [step["stage"] for step in firm.client.get(second).json()["steps"] if step["ms"]] == ["quote"]
    plain, surer = (firm.client.get(f"{path}/quote").json()["result"] for path in (first, second))
    found = surer["contingency"]
    assert found["within"] == pytest.approx(0.8, abs=0.001)
    assert found["allowance"]["amount"] in found["sentence"]
    codes = [line["key"]["code"] for line in surer["lines"]]
    assert codes.count("allowance") == 1
    assert Decimal(surer["total"]["amount"]) > Decimal(plain["total"]["amount"])
    assert plain["contingency"]["p80"] == found["p80"]


def test_a_result_that_is_not_there_yet_says_so(firm: Firm) -> None:
    path = firm.post("/v1/estimates", valid_job()).headers["location"]
    assert code_of(firm.client.get(f"{path}/quote")) == "result-not-ready"
    firm.client.post(f"{path}/cancel")
    assert code_of(firm.client.get(f"{path}/surface")) == "result-not-ready"


def test_a_floor_or_alternate_that_there_is_not_is_named_with_those_that_there_are(
    owner: Firm, estimate: dict[str, Any]
) -> None:
    path = estimate["links"]["self"]
    floor = owner.client.get(f"{path}/surface?floor=attic")
    assert code_of(floor) == "not-found"
    assert "garden" in floor.json()["detail"]
    alternate = owner.client.get(f"{path}/quote?alternate=level")
    assert "plane" in alternate.json()["detail"]
    assert owner.client.get(f"{path}/correction?floor=garden&alternate=plane").status_code == 200
    assert code_of(owner.client.get(f"{path}/quote?floor=garden")) == "invalid-parameter"


def test_findings_point_into_the_posted_document(service: Service, worker: OwnWorker) -> None:
    firm = service.firm()
    job = json.loads(json.dumps(valid_job()))
    job["surveys"][0]["readings"][0]["x"][2] = 90
    path = firm.post("/v1/estimates", job).headers["location"]
    worker.work_off()
    estimate = firm.client.get(path).json()
    assert estimate["state"] == "completed"
    pointers = [problem["pointer"] for problem in estimate["problems"]]
    assert any(pointer.startswith("/surveys/0/readings/0") for pointer in pointers), estimate["problems"]
    for pointer in filter(None, pointers):
        value: Any = job
        for part in pointer.split("/")[1:]:
            value = value[int(part)] if isinstance(value, list) else value[part]

"""What an earlier job left comes off the order, unless it is too old or named wrongly."""

from typing import Any

from tests.support.api import Firm, valid_job
from tests.support.own_worker import OwnWorker
from tests.support.problems import pointers_of


def _with(*stock: dict[str, Any]) -> dict[str, Any]:
    return valid_job(scope={**valid_job().get("scope", {}), "stock": list(stock)})


def test_stock_that_expires_before_the_job_begins_is_told_and_bought_anew(
    firm: Firm, worker: OwnWorker
) -> None:
    old = {"product": "acrylic-primer", "packages": 1, "opened": 0.5, "use_by": "2020-01-31"}
    good = {"product": "wood-adhesive", "packages": 1, "use_by": "2999-01-31"}
    path = firm.post("/v1/estimates", _with(old, good)).headers["location"]
    worker.work_off()
    estimate = firm.client.get(path).json()
    (told,) = [one for one in estimate["problems"] if one["code"] == "stock-expired"]
    assert told["pointer"] == "/scope/stock/0/use_by"
    assert "2020-01-31" in told["detail"]
    lines = firm.client.get(f"{path}/takeoff").json()["result"]["lines"]
    from_stock = {line["key"]["product"]: line["from_stock"] for line in lines}
    assert from_stock["acrylic-primer"] == 0
    assert from_stock["wood-adhesive"] == 1


def test_stock_of_nothing_or_of_a_day_that_is_none_is_refused_where_it_stands(firm: Firm) -> None:
    nothing = {"product": "acrylic-primer"}
    answer = firm.post("/v1/estimates", _with(nothing))
    assert answer.status_code == 422
    assert pointers_of(answer) == ["/scope/stock/0"]
    assert "at least one package or a share" in answer.text
    wrong = {"product": "acrylic-primer", "packages": 1, "opened": -1, "use_by": "soon"}
    answer = firm.post("/v1/estimates", _with(wrong))
    assert answer.status_code == 422
    assert set(pointers_of(answer)) == {"/scope/stock/0/opened", "/scope/stock/0/use_by"}


def test_the_firm_may_charge_its_stock_and_every_line_of_a_takeoff_tells_what_remains(
    firm: Firm, worker: OwnWorker
) -> None:
    posted = _with({"product": "wood-adhesive", "packages": 1})
    free = _quoted_lines(firm, worker, posted)
    assert firm.post("/v1/price-books", {"stock_priced": True}).status_code == 201
    charged = _quoted_lines(firm, worker, posted)
    (line,) = [line for line in charged if line["key"]["code"] == "from-stock"]
    assert line["key"]["product"] == "wood-adhesive"
    assert line["quantity"] == "1"
    assert line["cost"] == line["unit_cost"]
    assert {_key(each) for each in charged} - {_key(each) for each in free} == {_key(line)}


def _quoted_lines(firm: Firm, worker: OwnWorker, posted: dict[str, Any]) -> list[dict[str, Any]]:
    path = firm.post("/v1/estimates", posted).headers["location"]
    worker.work_off()
    estimate = firm.client.get(path).json()
    bought = [
        line
        for line in firm.client.get(f"{path}/takeoff").json()["result"]["lines"]
        if line["kind"] == "material"
    ]
    assert all("left over" in line["trace"]["inputs"] and line["package_size"] > 0 for line in bought)
    (quote,) = estimate["links"]["quotes"]
    lines: list[dict[str, Any]] = firm.client.get(quote).json()["document"]["quote"]["lines"]
    return lines


def _key(line: dict[str, Any]) -> tuple[str, ...]:
    return (*map(str, line["key"].values()), line["kind"])

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

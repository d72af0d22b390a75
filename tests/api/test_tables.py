"""Lines, cuts, purchases and pours as tables that a spreadsheet opens: they say what the results say."""

import csv
from typing import Any

import pytest

from slab_api.results.tables import TABLES
from tests.support.api import Firm, valid_job
from tests.support.own_worker import OwnWorker
from tests.support.problems import code_of

FORMULA = "=1+2"


@pytest.fixture(scope="module")
def estimate(owner: Firm, worker: OwnWorker) -> dict[str, Any]:
    catalogue = owner.post("/v1/catalogues", {"adhesive": {"name": FORMULA}}).json()["id"]
    job = valid_job(catalogue=catalogue)
    job["scope"] = {**job.get("scope", {}), "base_off": True, "base_new": True}
    path = owner.post("/v1/estimates", job).headers["location"]
    worker.work_off()
    found: dict[str, Any] = owner.client.get(path).json()
    assert found["state"] == "completed", found["problems"]
    return found


def _table(firm: Firm, estimate: dict[str, Any], path: str) -> list[dict[str, str]]:
    answer = firm.client.get(f"/v1/estimates/{estimate['id']}/{path}.csv")
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"] == "text/csv; charset=utf-8"
    assert path.rpartition("/")[2] in answer.headers["content-disposition"]
    return list(csv.DictReader(answer.content.decode("utf-8-sig").splitlines()))


def _result(firm: Firm, estimate: dict[str, Any], stage: str) -> Any:
    return firm.client.get(f"/v1/estimates/{estimate['id']}/{stage}").json()["result"]


def test_every_line_of_the_takeoff_is_a_row_with_its_figures_and_where_they_come_from(
    owner: Firm, estimate: dict[str, Any]
) -> None:
    rows, lines = (
        _table(owner, estimate, "takeoff/lines"),
        _result(owner, estimate, "takeoff")["lines"],
    )
    assert len(rows) == len(lines)
    for row, line in zip(rows, lines, strict=True):
        assert float(row["net"]) == pytest.approx(line["net"], abs=1e-6)
        assert float(row["order"]) == pytest.approx(line["order"], abs=1e-6)
        assert float(row["waste (%)"]) == pytest.approx(100 * line["waste_share"], abs=1e-6)
        assert row["formula"].lstrip("'") == line["trace"]["formula"]
        assert all(value in row["inputs"] for value in line["trace"]["inputs"].values())


def test_text_that_a_spreadsheet_would_run_is_made_plain_text(owner: Firm, estimate: dict[str, Any]) -> None:
    whats = {row["product"]: row["what"] for row in _table(owner, estimate, "takeoff/lines")}
    assert whats["wood-adhesive"] == f"'{FORMULA}"
    for table in TABLES:
        for row in _table(owner, estimate, f"{table.stage.name}/{table.name}"):
            for cell in row.values():
                assert not cell.startswith(("=", "+", "@"))
                assert not cell.startswith("-") or float(cell) < 0


def test_what_is_bought_cut_and_poured_is_as_the_results_have_it(
    owner: Firm, estimate: dict[str, Any]
) -> None:
    plan = _result(owner, estimate, "schedule")
    bought = [(row["product"], row["order by"]) for row in _table(owner, estimate, "schedule/purchases")]
    assert bought == [(one["product"], one["order_by"]) for one in plan["purchases"]]
    pours = _table(owner, estimate, "correction/pours")
    assert [(row["pour"], int(row["bags"])) for row in pours] == [
        (pour["id"], pour["bags"]) for pour in _result(owner, estimate, "correction")["pours"]
    ]
    assert pours
    cuts = _table(owner, estimate, "takeoff/cuts")
    cut_lists = _result(owner, estimate, "takeoff")["cut_lists"]
    pieces = [piece for one in cut_lists for stick in one["sticks"] for piece in stick["pieces"]]
    assert [row["where"].lstrip("'") for row in cuts] == [piece["where"] for piece in pieces]
    total = sum(float(row["length (mm)"]) for row in cuts)
    assert total == pytest.approx(sum(1000 * piece["length_m"] for piece in pieces), abs=0.01)
    ends = [(row["left end"], row["right end"]) for row in cuts]
    assert ends == [(piece["left"], piece["right"]) for piece in pieces]
    assert ("inside", "inside") in ends


def test_boards_are_listed_piece_by_piece_with_what_they_are_cut_from(
    owner: Firm, estimate: dict[str, Any]
) -> None:
    layout, rows = _result(owner, estimate, "layout"), _table(owner, estimate, "layout/boards")
    assert [(int(row["row"]), int(row["piece"]), int(row["board"])) for row in rows] == [
        (piece["row"], piece["order"], piece["board"]) for piece in layout["pieces"]
    ]
    assert {row["taken from"] for row in rows} == {"board", "offcut"}
    by_place = {(row["row"], row["piece"]): row for row in rows}
    for row in rows:
        if row["taken from"] == "offcut":
            earlier = by_place[row["offcut of row"], row["offcut of piece"]]
            assert earlier["board"] == row["board"]
            assert (earlier["rest to row"], earlier["rest to piece"]) == (row["row"], row["piece"])
        else:
            assert row["offcut of row"] == ""
    for spread in layout["spreads"]:
        own = [n for n, row in enumerate(rows, start=1) if row["spread"] == str(spread["order"])]
        assert own == spread["pieces"]


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.name)
def test_a_table_that_the_client_has_is_not_sent_again_and_none_is_there_before_its_stage(
    owner: Firm, estimate: dict[str, Any], table: Any
) -> None:
    path = f"/v1/estimates/{estimate['id']}/{table.stage.name}/{table.name}.csv"
    tag = owner.client.get(path).headers["etag"]
    assert owner.client.get(path, headers={"if-none-match": tag}).status_code == 304
    assert owner.client.get(path, headers={"if-none-match": '"other"'}).status_code == 200
    waiting = owner.post("/v1/estimates", valid_job(name="Not computed")).headers["location"]
    answer = owner.client.get(f"{waiting}/{table.stage.name}/{table.name}.csv")
    assert (answer.status_code, code_of(answer)) == (409, "result-not-ready")

"""Where the next board goes, asked over HTTP while boards are laid as they come."""

from typing import Any

import jsonschema
import pytest

from slab_api.app import bare_app
from slab_api.openapi import openapi_document
from tests.support.api import Firm, valid_job
from tests.support.own_worker import OwnWorker
from tests.support.problems import code_of, pointers_of

_DOCUMENT = openapi_document(bare_app(base_url="http://x"))


@pytest.fixture(scope="module")
def layout(owner: Firm, worker: OwnWorker) -> tuple[str, dict[str, Any]]:
    path = owner.post("/v1/estimates", valid_job()).headers["location"]
    worker.work_off()
    return f"{path}/layout", owner.client.get(f"{path}/layout").json()["result"]


def _ask(owner: Firm, address: str, **body: Any) -> Any:
    return owner.client.post(f"{address}/next-board", json={"board": {"length": 1.2}, "laid": [], **body})


def test_the_first_board_goes_into_the_first_row_and_asking_again_changes_nothing(
    owner: Firm, layout: tuple[str, dict[str, Any]]
) -> None:
    address, _ = layout
    first, again = _ask(owner, address), _ask(owner, address)
    assert first.status_code == 200, first.text
    assert first.content == again.content
    placing = first.json()["placing"]
    assert (placing["row"], placing["run"], placing["order"]) == (1, 1, 1)
    assert "row 1" in first.json()["reason"]
    schema = {"$ref": "#/components/schemas/NextBoard", "components": _DOCUMENT["components"]}
    jsonschema.Draft202012Validator(schema).validate(first.json())


def test_the_layout_names_its_runs_and_the_rules_that_boards_keep(
    layout: tuple[str, dict[str, Any]],
) -> None:
    _, result = layout
    assert {run["row"] for run in result["runs"]} == set(range(1, result["rows"] + 1))
    assert result["rules"]["stagger_m"] > result["rules"]["kerf_m"] > 0


def test_a_board_goes_on_where_the_run_was_left(owner: Firm, layout: tuple[str, dict[str, Any]]) -> None:
    address, result = layout
    run = result["runs"][0]
    answer = _ask(owner, address, laid=[{"row": 1, "lengths": ["2 ft", 0.8]}], open_rows=1).json()
    assert answer["placing"]["order"] == 3
    assert answer["placing"]["start_m"] == pytest.approx(run["start_m"] + 2 * 0.3048 + 0.8)


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ({"laid": [{"row": 900, "lengths": [1.0]}]}, "/laid/0"),
        ({"laid": [{"row": 1, "lengths": [1.0]}, {"row": 1, "lengths": [0.5]}]}, "/laid/1"),
        ({"laid": [{"row": 1, "lengths": [1.0, 90.0]}]}, "/laid/0/lengths/1"),
        ({"laid": [{"row": 1, "lengths": [1.0, -1.0]}]}, "/laid/0/lengths/1"),
        ({"laid": [{"row": 1, "lengths": ["one board"]}]}, "/laid/0/lengths/0"),
        ({"board": {"length": 0.01}}, "/board/length"),
        ({"board": {"length": "3 parsecs"}}, "/board/length"),
        ({"board": {}}, "/board/length"),
        ({"bundle": [1.2, "long"]}, "/bundle/1"),
        ({"bundle": [1.2, 0.05]}, "/bundle/1"),
        ({"open_rows": 0}, "/open_rows"),
        ({"rows": 3}, "/rows"),
    ],
)
def test_nonsense_is_refused_with_its_place(
    owner: Firm, layout: tuple[str, dict[str, Any]], body: dict[str, Any], pointer: str
) -> None:
    answer = _ask(owner, layout[0], **body)
    assert answer.status_code == 422
    assert pointers_of(answer) == [pointer]


def test_an_estimate_without_a_layout_yet_says_so(owner: Firm, worker: OwnWorker) -> None:
    path = owner.post("/v1/estimates", valid_job()).headers["location"]
    answer = _ask(owner, f"{path}/layout")
    assert code_of(answer) in {"result-not-ready"}
    worker.work_off()

"""What the schemas of results say in words."""

from typing import Any

from slab_api.results.describe import describe
from slab_core.tolerance.model import ToleranceReport


def _schemas() -> dict[str, Any]:
    into: dict[str, Any] = {}
    describe(ToleranceReport, into=into)
    return into


def test_a_grid_says_where_to_learn_which_nodes_lie_on_the_floor() -> None:
    departure = _schemas()["RuleReportResult"]["properties"]["departure_mm"]
    assert "`inside`" in departure["description"]


def test_an_f_number_that_may_be_infinite_says_that_it_is_null_then() -> None:
    number = _schemas()["FNumbersResult"]["properties"]["ff"]
    assert number["type"] == ["number", "null"]
    assert "infinite" in number["description"]

"""Where rows lie, as a client asks for it."""

import pytest

from tests.support.api import Firm, valid_job
from tests.support.own_worker import OwnWorker
from tests.support.problems import pointers_of


def test_a_line_of_the_next_room_is_carried_on(owner: Firm, worker: OwnWorker) -> None:
    covering = {"line_through": ["1 m", "0.7 m"], "direction_deg": 0.0, "width": "0.1 m"}
    path = owner.post("/v1/estimates", valid_job(covering=covering)).headers["location"]
    worker.work_off()
    result = owner.client.get(f"{path}/layout").json()["result"]
    away = 1.0 if result["direction_deg"] == 0.0 else -1.0  # from whichever wall laying starts
    lines = [result["origin"][1] + away * line for line in result["lines_m"]]
    assert min(abs(line - 0.7) for line in lines) < 1e-6
    assert result["direction_deg"] in (0.0, 180.0)
    priced = [choice["direction_deg"] for choice in result["directions"]]
    assert priced[0] == result["direction_deg"]
    assert [(priced[0] - other) % 180.0 for other in priced[1:]] == [90.0]


@pytest.mark.parametrize(
    ("covering", "pointer"),
    [
        ({"rows_start": "anywhere"}, "/covering/rows_start"),
        ({"line_through": ["1 m", "far"]}, "/covering/line_through/1"),
        ({"line_through": ["1 m"]}, "/covering/line_through/1"),
    ],
)
def test_a_start_that_is_none_is_refused(firm: Firm, covering: dict[str, object], pointer: str) -> None:
    assert pointers_of(firm.post("/v1/estimates", valid_job(covering=covering))) == [pointer]

"""Alternates through the real service: API, broker, worker and maths, one of them beyond what can be done."""

import json
from decimal import Decimal
from pathlib import Path

from tests.e2e.client import Client, codes

ROOT = Path(__file__).parents[2]


def test_two_alternates_of_which_one_is_refused_alone(client: Client) -> None:
    job = json.loads((ROOT / "services/slab_local/demo/job.json").read_text())
    job["options"]["alternates"] = ["plane", "grind-only"]
    estimate = client.estimate(job)
    assert estimate["state"] == "completed"
    plane, ground = estimate["alternates"]
    assert (plane["alternate"], plane["refused"], ground["alternate"], ground["refused"]) == (
        "plane",
        False,
        "grind-only",
        True,
    )
    (quote,) = estimate["quotes"]
    assert quote["id"] == plane["quote_id"]
    assert Decimal(quote["total"]["amount"]) > 0
    assert codes(estimate, severity="refusal") == {"limits-unmeetable"}
    assert client.result(estimate, "quote", alternate="plane") == client.result(estimate, "quote")
    refused = client.result(estimate, "correction", alternate="grind-only")
    assert refused["solve"]["status"] == "infeasible"

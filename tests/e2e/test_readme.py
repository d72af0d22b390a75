"""What README.md shows as the service's answer is what the service answers."""

import json
from pathlib import Path
from typing import Any

from tests.e2e.client import Client

ROOT = Path(__file__).parents[2]


def _shown() -> Any:
    return json.loads((ROOT / "README.md").read_text().split("```json\n")[1].split("```")[0])


def _without_ids(alternates: Any) -> list[Any]:
    return [{name: each[name] for name in each if name != "quote_id"} for each in alternates]


def test_the_answer_in_the_readme_is_real(client: Client) -> None:
    job = json.loads((ROOT / "services/slab_local/demo/job.json").read_text())
    estimate, shown = client.estimate(job), _shown()
    assert estimate["state"] == shown["state"]
    assert [p for p in estimate["problems"] if p["code"] == "misread"] == shown["problems"]
    assert _without_ids(estimate["alternates"]) == _without_ids(shown["alternates"])
    assert shown["links"].keys() <= estimate["links"].keys()

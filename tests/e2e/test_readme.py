"""What README.md shows as the service's answer is what the service answers."""

import json
from pathlib import Path
from typing import Any

from tests.e2e.client import Client

ROOT = Path(__file__).parents[2]


def _shown() -> Any:
    return json.loads((ROOT / "README.md").read_text().split("```json\n")[1].split("```")[0])


def test_the_answer_in_the_readme_is_real(client: Client) -> None:
    job = json.loads((ROOT / "services/slab_local/demo/job.json").read_text())
    estimate, shown = client.estimate(job), _shown()
    assert estimate["state"] == shown["state"]
    assert [p for p in estimate["problems"] if p["code"] == "misread"] == shown["problems"]
    assert [quote["total"] for quote in estimate["quotes"]] == [quote["total"] for quote in shown["quotes"]]
    assert shown["links"].keys() <= estimate["links"].keys()

"""The committed examples of the contract: played against a service, and compared or written anew.

`python -m tests.support.examples` writes the responses anew; the requests stay as they are.
"""

import json
import re
from pathlib import Path
from typing import Any

from tests.support.api import Firm, running_api
from tests.support.databases import copied_database, migrated_template
from tests.support.own_worker import OwnWorker, own_worker
from tests.support.servers import running_postgres

FOLDER = Path(__file__).parents[2] / "openapi" / "examples"
_KEPT_HEADERS = ("content-type", "location", "etag", "retry-after")
# What is another each time: moments, the caller's key, trace ids, and the address of the service.
_CHANGING = (
    (re.compile(r"^\d{4}-\d\d-\d\dT[\d:.]+Z$"), "2026-03-02T15:04:05Z"),
    (re.compile(r"^key:[a-z2-7]{8}$"), "key:abcdefgh"),
    (re.compile(r"^[0-9a-f]{32}$"), "0af7651916cd43dd8448eb211c80319c"),
    (re.compile(r"^http://127\.0\.0\.1:\d+"), "http://127.0.0.1:8000"),
)


def play(exchange: dict[str, Any], *, firm: Firm, worker: OwnWorker) -> dict[str, Any]:
    """Send the request and give the response, without what is another each time."""
    request = exchange["request"]
    if request["method"] == "GET":
        worker.work_off()
    answer = firm.client.request(
        request["method"],
        request["path"],
        json=request.get("body"),
        content=request.get("text"),
        headers=request.get("headers"),
    )
    headers = {name: answer.headers[name] for name in _KEPT_HEADERS if name in answer.headers}
    if not exchange["exact"]:
        headers.pop("etag", None)
    return {"status": answer.status_code, "headers": headers, "body": steady(answer.json())}


def steady(value: Any) -> Any:
    """The value with what changes each time replaced by one example of it."""
    if isinstance(value, dict):
        return {name: steady(item) for name, item in value.items()}
    if isinstance(value, list):
        return [steady(item) for item in value]
    if isinstance(value, str):
        for pattern, example in _CHANGING:
            value = pattern.sub(example, value)
    return value


def shape(value: Any) -> Any:
    """What kind of value it is: a computed number may change with the maths, its place and kind may not."""
    if isinstance(value, dict):
        return {name: shape(item) for name, item in value.items()}
    if isinstance(value, list):
        return [shape(value[0])] if value else []
    if isinstance(value, bool) or value is None:
        return type(value).__name__
    return "number" if isinstance(value, int | float) else "text"


def main() -> None:
    """Play all examples and write down the responses."""
    with (
        running_postgres() as server,
        migrated_template(superuser_url=server) as template,
        copied_database(superuser_url=server, template=template) as urls,
        running_api(urls) as service,
        own_worker(urls) as worker,
    ):
        for path in sorted(FOLDER.glob("*.json")):
            example = json.loads(path.read_text())
            firm = service.firm()
            for exchange in example["exchanges"]:
                exchange["response"] = play(exchange, firm=firm, worker=worker)
            path.write_text(json.dumps(example, indent=1, ensure_ascii=False) + "\n")


if __name__ == "__main__":
    main()

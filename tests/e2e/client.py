"""What a client of the service does, in a few words."""

import time
from dataclasses import dataclass
from typing import Any
from uuid import uuid4

import httpx

Json = dict[str, Any]

MOST_SECONDS = 240.0


@dataclass(frozen=True)
class Client:
    """Posts with a fresh idempotency key and waits for finished estimates."""

    http: httpx.Client

    def post(self, path: str, document: Any, *, wait_s: int = 0) -> httpx.Response:
        """The answer to a POST, whatever it is."""
        headers = {"Idempotency-Key": str(uuid4())} | ({"Prefer": f"wait={wait_s}"} if wait_s else {})
        return self.http.post(path, json=document, headers=headers)

    def estimate(self, job: Json) -> Json:
        """The finished estimate of an inline job."""
        answer = self.post("/v1/estimates", job, wait_s=30)
        assert answer.status_code in (200, 202), answer.text
        found: Json = answer.json()
        # A worker that is started for the first time compiles its kernels before it takes anything.
        until = time.monotonic() + MOST_SECONDS
        while found["state"] in ("queued", "running") and time.monotonic() < until:
            time.sleep(0.5)
            found = self.http.get(f"/v1/estimates/{found['id']}").json()
        assert found["state"] not in ("queued", "running"), found
        return found

    def result(self, estimate: Json, stage: str, **query: str) -> Json:
        """One stage's result."""
        answer = self.http.get(f"/v1/estimates/{estimate['id']}/{stage}", params=query)
        assert answer.status_code == 200, answer.text
        found: Json = answer.json()["result"]
        return found


def codes(estimate: Json, *, severity: str) -> set[str]:
    """The codes of an estimate's problems of one severity."""
    return {problem["code"] for problem in estimate["problems"] if problem["severity"] == severity}

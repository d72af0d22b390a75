"""The demo: start everything, post one invented job as any client would, print its quote, stop."""

import json
import time
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path
from typing import Any

import httpx

from slab_local.demo import before, show
from slab_local.interrupts import Interrupted, interruptible
from slab_local.place import keep_kernels, throwaway_home
from slab_local.stack import Stack, running_stack

Json = dict[str, Any]
PATIENCE_S = 120.0
OVER = frozenset({"completed", "refused", "failed", "cancelled"})


def main() -> int:
    """0 when the estimate came back completed."""
    keep_kernels(project=Path.cwd())
    try:
        with (
            interruptible(),
            throwaway_home() as home,
            running_stack(home=home, report=_say, port=0) as stack,
        ):
            state = _estimate(stack)
    except Interrupted:
        _say("Interrupted; everything is stopped.")
        return 130
    return 0 if state == "completed" else 1


def _estimate(stack: Stack) -> str:
    key = stack.new_key(organisation="Larch & Lime Floors")
    job = json.loads(files("slab_local.demo").joinpath("job.json").read_text())
    with httpx.Client(
        base_url=stack.base_url, headers={"Authorization": f"Bearer {key}"}, timeout=30
    ) as client:
        _say(f"\nPosting “{job['name']}” to {stack.base_url}/v1/estimates")
        posted = client.post("/v1/estimates", json=job, headers={"Idempotency-Key": "demo-job-1"})
        _expect(posted)
        estimate = _watch(client, posted.headers["Location"])
        for line in _report(client, estimate, time_zone=job["site"]["time_zone"]):
            _say(line)
    return str(estimate["state"])


def _watch(client: httpx.Client, location: str) -> Json:
    """The finished estimate; each step is told when it is done."""
    told: set[tuple[str, str, str | None]] = set()
    patient = False
    give_up = time.monotonic() + PATIENCE_S
    while time.monotonic() < give_up:
        estimate = _get(client, location)
        for step in estimate["steps"]:
            key = (step["stage"], step["subject"], step["alternate"])
            if step["state"] == "done" and key not in told:
                told.add(key)
                of = step["alternate"] or ""
                _say(f"  {step['stage']:<11}{step['subject']:<14}{of:<11}{step['ms'] or 0.0:7.0f} ms")
        if estimate["state"] in OVER:
            return estimate
        if not told and not patient and time.monotonic() > give_up - PATIENCE_S + 2:
            patient = True
            _say("  (the worker is getting ready; the first time on a machine it compiles its kernels)")
        time.sleep(0.05)
    raise TimeoutError(f"no answer within {PATIENCE_S:.0f} s; the logs are in the folder of the run")


def _report(client: httpx.Client, estimate: Json, *, time_zone: str) -> Iterator[str]:
    place = f"/v1/estimates/{estimate['id']}"
    done = {step["stage"] for step in estimate["steps"] if step["state"] == "done"}
    floors = sorted({step["subject"] for step in estimate["steps"] if step["stage"] == "surface"})
    yield from show.problems([p for p in estimate["problems"] if p["severity"] in ("refusal", "finding")])
    for floor in floors:
        for stage, lines in (
            ("tolerance", show.tolerance),
            ("correction", show.correction),
            ("layout", show.layout),
        ):
            if stage in done:
                yield from lines(_result(client, f"{place}/{stage}?floor={floor}"))
    taken = _result(client, f"{place}/takeoff")["lines"] if "takeoff" in done else []
    yield from show.takeoff(taken)
    if "schedule" in done:
        plan = _result(client, f"{place}/schedule")
        yield from show.schedule(plan, time_zone=time_zone)
        yield from before.holds(plan["holds"], time_zone=time_zone)
        yield from before.purchases(plan["purchases"])
    if "quote" in done:
        yield from show.quote(_result(client, f"{place}/quote"), takeoff=taken)
    yield from show.alternates(estimate["alternates"])
    yield from show.problems([p for p in estimate["problems"] if p["severity"] in ("warning", "caution")])


def _get(client: httpx.Client, path: str) -> Json:
    answer = client.get(path)
    _expect(answer)
    found: Json = answer.json()
    return found


def _result(client: httpx.Client, path: str) -> Json:
    result: Json = _get(client, path)["result"]
    return result


def _expect(answer: httpx.Response) -> None:
    if answer.is_error:
        raise RuntimeError(
            f"{answer.request.method} {answer.request.url} said {answer.status_code}: {answer.text}"
        )


def _say(line: str) -> None:
    print(line, flush=True)

"""An engine for fault tests: it sleeps instead of computing, and misbehaves where the job says so.

The job is JSON: `sleep` (seconds a step), `salt` (makes the results its own), and `trouble`, which maps a
stage, or stage/alternate, to "raise", "kill", "refuse", "refuse-input" or "hang".
"""

import hashlib
import json
import os
import signal
import time
from collections.abc import Callable
from typing import Any

from slab_app.codec import Encoded
from slab_app.work.ports import Computed, Upstream
from slab_core.errors import Problem, refuse
from slab_core.stages import StepSpec


class ToyEngine:
    """Results are the names of the steps they were made from; they make no quote records."""

    on_finished = ()

    def digest(self, *, step: StepSpec, job: Encoded, upstream: Upstream) -> bytes:
        """The salt, the step, and the digests of everything before it."""
        salt = _order(job).get("salt", "")
        recipe = f"{salt}/{step.stage}/{step.subject}/{step.alternate}/{step.version}"
        return hashlib.sha256(recipe.encode()).digest()

    def compute(
        self,
        *,
        step: StepSpec,
        job: Encoded,
        upstream: Upstream,
        stop: Callable[[], bool],
        tell: Callable[[float], None],
    ) -> Computed:
        """Sleep, then say what was done; or do what the job's `trouble` says."""
        order = _order(job)
        tell(0.5)
        troubles = order.get("trouble", {})
        trouble = troubles.get(step.stage) or troubles.get(f"{step.stage}/{step.alternate}")
        _sleep(order.get("sleep", 0.0), stop)
        if trouble == "raise":
            raise ArithmeticError("a poisoned step")
        if trouble == "kill":
            os.kill(os.getpid(), signal.SIGKILL)
        if trouble == "hang":
            time.sleep(3600)
        if trouble == "refuse-input":
            raise refuse(code="toy-refusal", detail="this input cannot be computed with", pointer="/rooms/0")
        return _computed(step, refused=trouble == "refuse")


def _computed(step: StepSpec, *, refused: bool) -> Computed:
    finding = Problem(code="toy-finding", detail=f"{step.stage} for {step.subject}")
    refusal = Problem(code="toy-refusal", detail="no allowed correction can meet it", severity="refusal")
    encoded = Encoded(json=json.dumps([step.stage, step.subject]).encode(), arrays=b"\x00\x01")
    quote = b"{}" if step.stage == "quote" else None
    return Computed(encoded=encoded, problems=(finding, refusal) if refused else (finding,), quote=quote)


def _order(job: Encoded) -> dict[str, Any]:
    order: dict[str, Any] = json.loads(job.json)
    return order


def _sleep(seconds: float, stop: Callable[[], bool]) -> None:
    end = time.monotonic() + seconds
    while (left := end - time.monotonic()) > 0 and not stop():
        time.sleep(min(left, 0.02))

"""Waiting for the API to say that it is ready."""

import time
from urllib.error import HTTPError, URLError
from urllib.request import ProxyHandler, build_opener

from slab_local import processes
from slab_local.errors import LocalServerError

READY_SECONDS = 60.0
# The loopback address is never reached through a proxy, whatever the environment says.
_opener = build_opener(ProxyHandler({}))


def wait_until_ready(*, base_url: str, child: processes.Child, seconds: float = READY_SECONDS) -> None:
    """Return when `/readyz` answers 200. Raises LocalServerError with its last answer and the log's end."""
    end = time.monotonic() + seconds
    answer = "no answer"
    while time.monotonic() < end:
        if child.ended():
            raise child.failure()
        ready, answer = _ask(url=f"{base_url}/readyz")
        if ready:
            return
        time.sleep(0.05)
    end_of_log = processes.tail(log=child.log)
    raise LocalServerError(f"{base_url}/readyz is not ready in {seconds:.0f} s: {answer}\n{end_of_log}")


def _ask(*, url: str) -> tuple[bool, str]:
    try:
        with _opener.open(url, timeout=5) as response:
            return True, str(response.status)
    except HTTPError as refusal:
        return False, f"{refusal.code} {refusal.read(2000).decode(errors='replace')}"
    except (URLError, OSError) as problem:
        return False, str(problem)

"""The `Prefer: wait=N` header (RFC 7240): how long a client is willing to wait for the finished thing."""

import re

from starlette.datastructures import Headers

_WAIT = re.compile(r"^\s*wait\s*=\s*\"?(\d{1,6})\"?\s*(?:;.*)?$", re.IGNORECASE)


def wanted_wait(headers: Headers, *, most: int) -> int:
    """Seconds to wait, not more than `most`; 0 without the preference. What is not understood is ignored."""
    for line in headers.getlist("prefer"):
        for preference in line.split(","):
            if found := _WAIT.match(preference):
                return min(int(found[1]), most)
    return 0

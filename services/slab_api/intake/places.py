"""From the core's names of places to those in a client's document."""

import re

_RULES = (
    (re.compile(r"(/(?:openings|lines|stretched_lines|joints)/\d+)/start(?=_height$|/|$)"), r"\1/from"),
    (re.compile(r"(/(?:openings|lines|stretched_lines|joints)/\d+)/end(?=_height$|/|$)"), r"\1/to"),
    (re.compile(r"(/threshold)/(?:low|high)_m(?=/|$)"), r"\1/height"),
    (re.compile(r"/(\w+?)_m(?=/|$)"), r"/\1"),
)


def client_pointer(pointer: str) -> str:
    """The pointer as it leads into what the client posted: without the units of the core's names."""
    for pattern, replacement in _RULES:
        pointer = pattern.sub(replacement, pointer)
    return pointer

"""RFC 6901 pointers into a posted document."""

from collections.abc import Iterable


def pointer(path: Iterable[str | int]) -> str:
    """The pointer of a path of names and positions; the whole document is the empty text."""
    return "".join(f"/{_escape(str(part))}" for part in path)


def _escape(name: str) -> str:
    return name.replace("~", "~0").replace("/", "~1")

"""Long lists of findings, cut where a person stops reading, with the rest counted."""

from collections.abc import Iterable

from slab_core.errors import Problem

MOST_FINDINGS = 200


def capped(findings: Iterable[Problem]) -> tuple[Problem, ...]:
    """The first 200 findings; beyond them one that says how many more there are."""
    every = tuple(findings)
    if len(every) <= MOST_FINDINGS:
        return every
    more = len(every) - MOST_FINDINGS
    detail = f"{more} more readings like those listed; look for one cause, such as a unit or the origin"
    rest = Problem(code=every[MOST_FINDINGS].code, detail=detail, pointer="/surveys")
    return (*every[:MOST_FINDINGS], rest)

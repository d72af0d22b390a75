"""Problems that travel with results, and the errors that stop a computation."""

from dataclasses import dataclass
from typing import Literal

Severity = Literal["refusal", "finding", "warning", "caution"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """Something a person must know about an input or a result.

    `code` is stable kebab-case; `pointer` is an RFC 6901 pointer into the posted job, or empty.
    A refusal ends the estimate as refused, a finding or warning lets it complete, a caution is
    a safety text.
    """

    code: str
    detail: str
    pointer: str = ""
    severity: Severity = "finding"


class SlabError(Exception):
    """Base of the core's errors. `code` is stable."""

    code = "slab-error"


class InputRefused(SlabError):
    """The input cannot be computed with at all; every problem names its place."""

    code = "input-refused"

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        super().__init__("; ".join(f"{p.pointer}: {p.detail}" for p in problems))
        self.problems = problems


def refuse(*, code: str, detail: str, pointer: str = "") -> InputRefused:
    """One refusal as an error to raise."""
    return InputRefused((Problem(code=code, detail=detail, pointer=pointer, severity="refusal"),))

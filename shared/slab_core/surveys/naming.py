"""A reading's place in the posted job as a person counts: reading 121 of survey 1."""

_WHAT = {"readings": "reading", "gaps": "gap", "lines": "reading", "stretched_lines": "reading"}
_BLOCK = {"readings": "block", "gaps": "block", "lines": "line", "stretched_lines": "stretched line"}


def named(pointer: str) -> str:
    """Words for a pointer such as /surveys/0/readings/0/value/120, counted from 1.

    The block of columns is named only where it is not the survey's first, a line always.
    """
    _, _, survey, kind, block, _, row = pointer.split("/")
    which = f" of {_BLOCK[kind]} {int(block) + 1}" if kind.endswith("lines") or block != "0" else ""
    return f"{_WHAT[kind]} {int(row) + 1}{which} of survey {int(survey) + 1}"

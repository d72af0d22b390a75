"""Why a file of points is not taken."""

from slab_core.errors import InputRefused, refuse


def empty(detail: str) -> InputRefused:
    """The file holds no points."""
    return refuse(code="scan-file-empty", detail=detail)


def unknown(detail: str) -> InputRefused:
    """The file is of no kind that is read here."""
    return refuse(code="scan-file-unknown", detail=detail)


def unsupported(detail: str) -> InputRefused:
    """The file is of a known kind, in a variant that is not read here."""
    return refuse(code="scan-file-unsupported", detail=detail)


def malformed(detail: str) -> InputRefused:
    """The file contradicts itself or its format."""
    return refuse(code="scan-file-malformed", detail=detail)


def truncated(detail: str) -> InputRefused:
    """The file ends before its points do."""
    return refuse(code="scan-file-truncated", detail=f"{detail} Copy or upload it again.")


def unfinished(*, stated: int, held: str) -> InputRefused:
    """The file holds more points than it states."""
    detail = f"The header states {stated:,} points, and the file holds {held}: it was not finished."
    return malformed(f"{detail} Export it again.")


def not_a_number(*, row: int) -> InputRefused:
    """A point has a coordinate that is not finite; rows count from 1."""
    detail = f"Point {row:,} has a coordinate that is not a number. Export the scan without empty points."
    return refuse(code="scan-file-not-a-number", detail=detail)

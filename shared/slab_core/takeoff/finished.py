"""Kinds of work that are behind a job which is measured again while its work goes on."""

from slab_core.correction.resurvey.standing import Followed, has_poured
from slab_core.surveys.model import Survey

BEFORE_GRINDING = frozenset({"furniture-out", "containment", "base-off", "tear-out", "survey"})
"""Behind every job of which ground or filled places are measured again. Measuring again is part of grinding
and filling and bears no line of its own."""

BEFORE_POURING = frozenset({"bond-grind", "edge-grind"})
"""Behind it too once anything is poured."""


def finished_codes(*, surveys: tuple[Survey, ...], followed: Followed | None) -> frozenset[str]:
    """Codes of work that is done in the whole job; none of a job that follows nothing."""
    if followed is None:
        return frozenset()
    poured = BEFORE_POURING if has_poured(surveys=surveys, followed=followed) else frozenset()
    return BEFORE_GRINDING | poured | frozenset((*followed.done_before, *followed.done_codes))

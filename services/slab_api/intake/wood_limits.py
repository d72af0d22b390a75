"""What a job's boards ask for, read over what the firm's boards usually ask for."""

from dataclasses import replace

from slab_api.intake.reader import Reader
from slab_api.schemas.wanted import WoodLimitsDocument
from slab_core.materials.wood_limits_model import SubfloorPoints, WoodLimits, wood_limit_slips


def read_wood_limits(posted: WoodLimitsDocument | None, *, usual: WoodLimits, reader: Reader) -> WoodLimits:
    """The usual limits with those that are posted, and a fault for each that cannot be."""
    if posted is None:
        return usual
    changes = posted.model_dump(exclude_none=True, exclude={"subfloor_points"})
    if posted.subfloor_points is not None:
        rows = (SubfloorPoints(**one.model_dump()) for one in posted.subfloor_points)
        changes["subfloor_points"] = tuple(rows)
    limits = replace(usual, **changes)
    for field, detail in wood_limit_slips(limits):
        reader.fault(detail, ("covering", "limits", *field.split("/")))
    return limits

"""Units of bare numbers."""

from typing import Annotated

from pydantic import Field

from slab_api.schemas.base import Document

UnitName = Annotated[str, Field(max_length=16, json_schema_extra={"examples": ["ft", "in", "m", "cm", "mm"]})]


class UnitsDocument(Document):
    """Units of lengths that are bare numbers: `length` in the plan, `height` for everything vertical."""

    length: Annotated[UnitName, Field(description="ft, in, m, cm or mm, for the plan.")] = "m"
    height: Annotated[
        UnitName | None,
        Field(description="ft, in, m, cm or mm, for elevations, gaps and thresholds; else as `length`."),
    ] = None

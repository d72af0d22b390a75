"""A whole job as a client posts it."""

from typing import Annotated, Any

from pydantic import ConfigDict, Field

from slab_api.schemas.base import ClientId, Document, Name, NewId
from slab_api.schemas.follows import FollowsDocument
from slab_api.schemas.options import OptionsDocument
from slab_api.schemas.rooms import ROOM_EXAMPLE, RoomDocument
from slab_api.schemas.site import ClimateDocument, SiteDocument
from slab_api.schemas.surveys import BenchmarkDocument, SurveyDocument
from slab_api.schemas.units import UnitsDocument
from slab_api.schemas.wanted import (
    CoveringDocument,
    DiscountDocument,
    LimitsDocument,
    PlanningDocument,
    ProductsDocument,
    ScopeDocument,
    ToleranceDocument,
)


class Versions(Document):
    """Which versions of the firm's own books count; absent: the newest valid one, or the starter of a firm
    that has none. A day on which none of the firm's price books is valid is refused."""

    price_book: ClientId | None = None
    catalogue: ClientId | None = None
    rates: ClientId | None = None
    calendar: ClientId | None = None


class JobParts(Versions):
    """Everything of a job but its rooms and surveys."""

    name: Name
    units: UnitsDocument = UnitsDocument()
    currency: Annotated[
        str | None, Field(pattern=r"^[A-Z]{3}$", description="ISO 4217; the price book's has to be the same.")
    ] = None
    site: SiteDocument = SiteDocument()
    benchmarks: Annotated[tuple[BenchmarkDocument, ...], Field(max_length=1000)] = ()
    tolerance: ToleranceDocument
    covering: CoveringDocument = CoveringDocument()
    products: ProductsDocument = ProductsDocument()
    scope: ScopeDocument = ScopeDocument()
    limits: LimitsDocument = LimitsDocument()
    climate: ClimateDocument = ClimateDocument()
    planning: PlanningDocument = PlanningDocument()
    discounts: Annotated[tuple[DiscountDocument, ...], Field(max_length=20)] = ()


JOB_EXAMPLE: dict[str, Any] = {
    "name": "Garden room, Alder Lane",
    "units": {"length": "ft", "height": "in"},
    "currency": "USD",
    "site": {"time_zone": "America/Denver", "built_year": 1994},
    "benchmarks": [{"id": "door sill", "elevation": 0}],
    "tolerance": {"rules": [{"length": "10 ft", "gap": "3/16 in"}]},
    "scope": {"removal": "carpet", "furniture_rooms": 1},
}


class EstimateRequest(JobParts):
    """A whole job, inline: rooms, surveys and options."""

    id: NewId = None
    rooms: Annotated[list[RoomDocument], Field(max_length=500)]
    surveys: Annotated[list[SurveyDocument], Field(max_length=500)]
    follows: FollowsDocument | None = None
    options: OptionsDocument = OptionsDocument()
    model_config = ConfigDict(
        json_schema_extra={
            "examples": [
                {
                    **JOB_EXAMPLE,
                    "rooms": [{"id": "garden", **ROOM_EXAMPLE}],
                    "surveys": [
                        {
                            "id": "first visit",
                            "setups": [{"id": "A", "instrument": "optical-level"}],
                            "sights": [{"setup": "A", "target": "door sill", "rod": 46.25}],
                            "readings": [
                                {
                                    "kind": "rod",
                                    "setup": "A",
                                    "x": [1, 5, 9, 13, 1, 5, 9, 13, 1, 5, 9, 13],
                                    "y": [1, 1, 1, 1, 5.5, 5.5, 5.5, 5.5, 10, 10, 10, 10],
                                    "value": [
                                        46.3,
                                        46.4,
                                        46.5,
                                        46.4,
                                        46.5,
                                        46.8,
                                        46.9,
                                        46.6,
                                        46.4,
                                        46.6,
                                        46.6,
                                        46.5,
                                    ],
                                    "position_sd": "2 in",
                                }
                            ],
                        }
                    ],
                }
            ]
        }
    )


class JobCreate(JobParts):
    """A job's long-lived record; rooms and surveys are added to it."""

    id: NewId = None
    model_config = ConfigDict(json_schema_extra={"examples": [JOB_EXAMPLE]})


class JobPatch(Document):
    """What to change of a job; what is absent stays, what is given replaces the whole field."""

    name: Name | None = None
    units: UnitsDocument | None = None
    currency: Annotated[str | None, Field(pattern=r"^[A-Z]{3}$")] = None
    site: SiteDocument | None = None
    benchmarks: Annotated[list[BenchmarkDocument], Field(max_length=1000)] | None = None
    tolerance: ToleranceDocument | None = None
    covering: CoveringDocument | None = None
    products: ProductsDocument | None = None
    scope: ScopeDocument | None = None
    limits: LimitsDocument | None = None
    climate: ClimateDocument | None = None
    planning: PlanningDocument | None = None
    discounts: Annotated[list[DiscountDocument], Field(max_length=20)] | None = None
    price_book: ClientId | None = None
    catalogue: ClientId | None = None
    rates: ClientId | None = None
    calendar: ClientId | None = None
    model_config = ConfigDict(
        json_schema_extra={"examples": [{"tolerance": {"rules": [{"length": "6 ft", "gap": "1/8 in"}]}}]}
    )


class JobEstimateRequest(Document):
    """An estimate of a job's record as it stands now."""

    id: NewId = None
    surveys: Annotated[
        list[ClientId] | None,
        Field(max_length=500, description="Which closed surveys to use; absent: all, and none may be open."),
    ] = None
    follows: FollowsDocument | None = None
    options: OptionsDocument = OptionsDocument()
    model_config = ConfigDict(json_schema_extra={"examples": [{"options": {"seed": 7}}]})

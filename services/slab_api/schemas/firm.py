"""What a firm states about itself: prices, products, rates, hours, crews. Each post makes a new version."""

from datetime import date
from typing import Annotated, Any, Literal, cast

from pydantic import ConfigDict, Field, create_model

from slab_api.schemas.base import Document, NewId
from slab_api.schemas.firm_schedules import CrewDocument, MachineDocument
from slab_api.schemas.partial import partial
from slab_core.materials.model import Catalogue
from slab_core.materials.rates_model import Rates
from slab_core.quote.model import PriceBook
from slab_store.firm_versions import FirmKind

LocalTime = Annotated[
    str,
    Field(
        pattern=r"^([01][0-9]|2[0-3]):[0-5][0-9](:[0-5][0-9])?$",
        description="Local time at the site, such as 08:00.",
    ),
]
Weekday = Literal["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"]


class FirmPost(Document):
    """What every new version may say."""

    id: NewId = None
    based_on: Annotated[
        Literal["newest", "starter"],
        Field(description="What counts where this says nothing: the firm's newest version, or the starter."),
    ] = "newest"


class ShiftDocument(Document):
    """Working hours on one weekday; a day may have several."""

    weekday: Weekday
    from_: Annotated[LocalTime, Field(alias="from")]
    to: LocalTime


class CalendarPost(FirmPost):
    """When a site may be worked on, in its own time zone."""

    time_zone: Annotated[str, Field(max_length=64)] | None = None
    shifts: Annotated[list[ShiftDocument], Field(min_length=1, max_length=100)] | None = None
    holidays: Annotated[list[date], Field(max_length=1000)] | None = None
    model_config = ConfigDict(
        json_schema_extra={
            "examples": [
                {
                    "time_zone": "America/Denver",
                    "shifts": [{"weekday": "saturday", "from": "09:00:00", "to": "13:00:00"}],
                    "holidays": ["2027-01-01"],
                }
            ]
        }
    )


class CrewsPost(FirmPost):
    """Who and what the firm plans with, where a schedule lists none. Each list replaces the one before."""

    crews: Annotated[tuple[CrewDocument, ...], Field(max_length=20)] | None = None
    machines: Annotated[tuple[MachineDocument, ...], Field(max_length=200)] | None = None
    model_config = ConfigDict(
        json_schema_extra={
            "examples": [
                {
                    "crews": [
                        {"id": "north", "people": 4, "skills": ["slab", "wood"]},
                        {"id": "south", "people": 3, "skills": ["wood"]},
                    ],
                    "machines": [{"id": "grinder 1", "kind": "floor-grinder"}],
                }
            ]
        }
    )


def _post(model: type, *, name: str, example: dict[str, Any]) -> type[FirmPost]:
    document = partial(model, name=f"{name}Document", leave_out=("version", "source"))
    made = create_model(name, __base__=(document, FirmPost), __doc__=model.__doc__)
    made.model_config["json_schema_extra"] = {"examples": [example]}
    made.model_rebuild(force=True)
    return cast(type[FirmPost], made)


PriceBookPost = _post(
    PriceBook,
    name="PriceBookPost",
    example={
        "currency": "USD",
        "valid_from": "2026-01-01",
        "valid_to": "2026-12-31",
        "overhead_share": "0.12",
        "profit_kind": "margin",
        "profit_share": "0.15",
    },
)
CataloguePost = _post(
    Catalogue,
    name="CataloguePost",
    example={"compound": {"waste_share": 0.05, "next_pour_hours": 16}},
)
RatesPost = _post(Rates, name="RatesPost", example={"people": 4, "bags_per_hour": 24})

POSTS: dict[FirmKind, type[FirmPost]] = {
    "price-book": PriceBookPost,
    "catalogue": CataloguePost,
    "rates": RatesPost,
    "calendar": CalendarPost,
    "crews": CrewsPost,
}

"""What is known of the building and its slab, as a client posts it."""

from typing import Annotated, Literal

from pydantic import Field

from slab_api.schemas.base import Document, Length
from slab_core.materials.slab_limits_model import Residue
from slab_core.materials.wood_species import BY_NAME

Share = Annotated[float, Field(ge=0, le=1)]
SlabHas = Literal["tendons", "heating-pipes", "membrane"]


class WoodDocument(Document):
    """Moisture measured on the boards, in percent of dry mass, and the climate they will live in."""

    species: Annotated[str, Field(max_length=64, description="One of: " + ", ".join(BY_NAME) + ".")]
    board_percent: Annotated[float, Field(ge=0, le=40)]
    quartersawn: bool = False
    subfloor_percent: Annotated[
        float | None, Field(ge=0, le=40, description="Of a wood subfloor that the boards run on to.")
    ] = None
    lived_humidity: Annotated[
        tuple[Share, Share], Field(description="Least and greatest relative humidity, 0 to 1, over a year.")
    ] = (0.30, 0.50)


class SlabDocument(Document):
    """What was measured on the slab or is known of it; what is absent nobody has measured."""

    humidity_percent: Annotated[
        float | None, Field(ge=0, le=100, description="The highest of all tests in the slab (ASTM F2170).")
    ] = None
    vapour_lb: Annotated[
        float | None, Field(ge=0, le=100, description="Pounds from 1,000 ft² in 24 h (ASTM F1869).")
    ] = None
    ph: Annotated[float | None, Field(ge=0, le=14)] = None
    temperature_c: Annotated[float | None, Field(ge=-30, le=60)] = None
    age_days: Annotated[int | None, Field(ge=0, le=200_000)] = None
    profile: Annotated[
        int | None, Field(ge=1, le=10, description="Surface profile of ICRI 310.2R when products go on.")
    ] = None
    residue: Annotated[
        Residue | None, Field(description="What is left on the slab; none if somebody looked.")
    ] = None
    thickness: Annotated[
        Length | None, Field(description="Says how deep the holes of moisture tests are.")
    ] = None
    dries_both_ways: Annotated[
        bool, Field(description="A slab with air below it: holes are half as deep.")
    ] = False
    exterior_walls: Annotated[
        int | None,
        Field(ge=0, le=1000, description="On or below grade; one moisture test is near each of them."),
    ] = None


class SiteDocument(Document):
    """What is known of the building. `built_year` decides the caution on asbestos, and what is allowed for a
    slab that nobody has seen."""

    time_zone: Annotated[str, Field(max_length=64, description="IANA name, such as America/Denver.")] = "UTC"
    built_year: Annotated[int, Field(ge=1500, le=2200)] | None = None
    porosity: Literal["porous", "dense"] = "porous"
    hardness: Literal["soft", "ordinary", "hard"] = "ordinary"
    lived_in: bool = True
    slab_has: Annotated[
        tuple[SlabHas, ...], Field(max_length=3, description="What must not be ground or drilled.")
    ] = ()
    wood: WoodDocument | None = None
    slab: SlabDocument = SlabDocument()
    tax_place: Annotated[
        str | None,
        Field(max_length=200, description="Where work is taxed; one of the price book's `tax_places`."),
    ] = None


class ClimateDocument(Document):
    """Temperature and relative humidity (0 to 1) at the site while work runs."""

    temperature_c: Annotated[float, Field(ge=-30, le=60)] = 21.1
    humidity: Share = 0.5

"""What is wanted of a job and within which limits, as a client posts it."""

from datetime import date
from decimal import Decimal
from typing import Annotated, Literal

from pydantic import Field

from slab_api.schemas.base import Document, Length, Name, Place
from slab_api.schemas.site import Share
from slab_core.takeoff.model import Removal
from slab_core.tolerance.classes import BY_CODE, CLASSES
from slab_core.tolerance.model import RuleKind


class RuleDocument(Document):
    """No more than `gap` of departure from a straightedge of `length`. both-ways counts crowns too."""

    length: Length
    gap: Length
    kind: RuleKind = "both-ways"


_CLASSES = "Rules by name. " + " ".join(
    f"{one.code}: {one.title} ({one.source}; {one.seen})." for one in CLASSES
)


class ToleranceDocument(Document):
    """What the floor must meet: rules, or a class of them by its name, or both.

    A class of F-numbers goes with rules of a straightedge, by which the floor is planned, and without
    `f_numbers`. `level`: the largest fall over the whole floor; F-numbers as [FF, FL].
    """

    rules: Annotated[tuple[RuleDocument, ...], Field(max_length=20)] = ()
    flatness_class: Annotated[
        str | None, Field(description=_CLASSES, json_schema_extra={"enum": [*BY_CODE, None]})
    ] = None
    level: Length | None = None
    f_numbers: (
        Annotated[list[Annotated[float, Field(gt=0, le=500)]], Field(min_length=2, max_length=2)] | None
    ) = None


class SubfloorPointsDocument(Document):
    """How far boards of at least this face width may be from a wood subfloor, in points of moisture."""

    from_width_m: Annotated[float, Field(ge=0, le=1)]
    points: Annotated[float, Field(gt=0, le=20)]


class WoodLimitsDocument(Document):
    """What boards ask of the air and of a wood subfloor, with sources in words; what is absent is the
    catalogue's `wood_limits`. A list of points replaces the one before."""

    least_air_temperature_c: Annotated[float, Field(ge=-30, le=60)] | None = None
    most_air_temperature_c: Annotated[float, Field(ge=-30, le=60)] | None = None
    least_air_humidity_percent: Annotated[float, Field(ge=0, le=100)] | None = None
    most_air_humidity_percent: Annotated[float, Field(ge=0, le=100)] | None = None
    air_source: Name | None = None
    acclimated_points: Annotated[float, Field(gt=0, le=20)] | None = None
    acclimated_source: Name | None = None
    subfloor_points: (
        Annotated[tuple[SubfloorPointsDocument, ...], Field(min_length=1, max_length=20)] | None
    ) = None
    subfloor_source: Name | None = None


class CoveringDocument(Document):
    """The boards that follow; what is absent is the starter covering's. Measured face sizes."""

    product: Name | None = None
    name: Name | None = None
    width: Length | None = None
    thickness: Length | None = None
    lengths: Annotated[list[Length], Field(min_length=1, max_length=50)] | None = None
    carton_m2: Annotated[float, Field(gt=0, le=100)] | None = None
    carton_kg: Annotated[float, Field(ge=0, le=1000)] | None = None
    expansion_gap: Length | None = None
    stagger: Length | None = None
    least_piece: Length | None = None
    least_rip: Length | None = None
    kerf: Length | None = None
    undercut: Annotated[
        Length | None,
        Field(description="How far boards reach under a hearth; absent or 0: they end the gap before it."),
    ] = None
    direction_deg: (
        Annotated[float, Field(ge=-360, le=360, description="Run of the boards, counter-clockwise from x.")]
        | None
    ) = None
    cull_share: Share | None = None
    beyond_plan_share: Share | None = None
    rows_start: Annotated[
        Literal["balanced", "centred"] | None,
        Field(description="Rows balanced between the first and last wall, or centred on the floor."),
    ] = None
    line_through: Annotated[
        Place | None,
        Field(
            description="A point that a line between two rows goes through: where rows of the next room end."
        ),
    ] = None
    lead_days: Annotated[
        int | None, Field(ge=0, le=1000, description="Days from the order until the boards are on site.")
    ] = None
    limits: WoodLimitsDocument | None = None


class StockDocument(Document):
    """What an earlier job left, by the product's id in the catalogue: unopened packages, and opened ones."""

    product: Name
    packages: Annotated[int, Field(ge=0, le=100_000)] = 0
    opened: Annotated[
        float,
        Field(
            ge=0, le=1000, description="What opened packages still hold that can be used: 0.5 is half of one."
        ),
    ] = 0.0
    use_by: Annotated[
        date | None, Field(description="The last day it may be used; after that it is not, and told.")
    ] = None


class ScopeDocument(Document):
    """Work around the slab that rooms and readings do not tell."""

    removal: Removal = "floating"
    furniture_rooms: Annotated[int, Field(ge=0, le=1000)] = 0
    base_off: bool = True
    base_new: bool = False
    quarter_round: Annotated[
        bool, Field(description="Quarter round along the walls, in front of the base.")
    ] = False
    carpet_edge: Length = 0.0
    bond_grinding: bool = True
    moisture_tests: bool = True
    stock: Annotated[tuple[StockDocument, ...], Field(max_length=500)] = ()
    use_firm_stock: Annotated[
        bool,
        Field(
            description="Plan also with what is free in the firm's store (GET /stock) when the estimate is "
            "posted; it is reserved when the quote is accepted."
        ),
    ] = False


class ProductsDocument(Document):
    """Which products of the catalogue the job takes, by their ids, and the notch of the adhesive's trowel;
    what is absent is the catalogue's usual one."""

    compound: Name | None = None
    primer: Name | None = None
    patch: Name | None = None
    adhesive: Name | None = None
    trowel: Name | None = None


class LimitsDocument(Document):
    """What the crew must not cross."""

    greatest_grind: Length | None = None
    greatest_fill: Length | None = None
    no_grinding: bool | None = None


class PlanningDocument(Document):
    """What the correction weighs grinding against filling with, in the job's currency; never a price."""

    labour_per_ph: Annotated[float, Field(gt=0, le=1e6)] | None = None
    grinder_per_mh: Annotated[float, Field(ge=0, le=1e6)] | None = None
    compound_per_bag: Annotated[float, Field(gt=0, le=1e6)] | None = None
    primer_per_m2: Annotated[float, Field(ge=0, le=1e6)] | None = None
    patch_per_bag: (
        Annotated[float, Field(gt=0, le=1e6, description="Absent: as dear as 1.25 bags of compound.")] | None
    ) = None


class DiscountDocument(Document):
    """What this one job is let off, beside the discounts of the price book and within its
    `job_discount_share`: a share of all prices before any discount, or an amount. Both come off before the
    minimum charge, and before tax."""

    what: Annotated[Name, Field(description="The customer reads this.")]
    reason: Annotated[str, Field(min_length=1, max_length=500, description="Why; for the firm alone.")]
    share: Annotated[Decimal | None, Field(strict=False, gt=0, le=1, description="Such as 0.05 for 5 %.")] = (
        None
    )
    amount: Annotated[
        Decimal | None,
        Field(strict=False, gt=0, le=10**12, description="In the price book's currency, before tax."),
    ] = None

"""A whole job as a client posts it."""

from typing import Annotated, Any, Literal

from pydantic import ConfigDict, Field

from slab_api.schemas.base import ClientId, Document, Length, Name, NewId, Place
from slab_api.schemas.follows import FollowsDocument
from slab_api.schemas.options import OptionsDocument
from slab_api.schemas.rooms import ROOM_EXAMPLE, RoomDocument
from slab_api.schemas.surveys import BenchmarkDocument, SurveyDocument
from slab_api.schemas.units import UnitsDocument
from slab_core.materials.slab_limits_model import Residue
from slab_core.materials.wood_species import BY_NAME
from slab_core.takeoff.model import Removal
from slab_core.tolerance.classes import BY_CODE, CLASSES
from slab_core.tolerance.model import RuleKind

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
    residue: Annotated[Residue, Field(description="What is left on the slab.")] = "none"


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

    `level`: the largest fall over the whole floor; F-numbers as [FF, FL].
    """

    rules: Annotated[tuple[RuleDocument, ...], Field(max_length=20)] = ()
    flatness_class: Annotated[
        str | None, Field(description=_CLASSES, json_schema_extra={"enum": [*BY_CODE, None]})
    ] = None
    level: Length | None = None
    f_numbers: (
        Annotated[list[Annotated[float, Field(gt=0, le=500)]], Field(min_length=2, max_length=2)] | None
    ) = None


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


class StockDocument(Document):
    """Unopened packages that an earlier job left, by the product's id in the catalogue."""

    product: Name
    packages: Annotated[int, Field(ge=1, le=100_000)]


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


class LimitsDocument(Document):
    """What the crew must not cross."""

    greatest_grind: Length | None = None
    greatest_fill: Length | None = None
    no_grinding: bool | None = None


class ClimateDocument(Document):
    """Temperature and relative humidity (0 to 1) at the site while work runs."""

    temperature_c: Annotated[float, Field(ge=-30, le=60)] = 21.1
    humidity: Share = 0.5


class PlanningDocument(Document):
    """What the correction weighs grinding against filling with, in the job's currency; never a price."""

    labour_per_ph: Annotated[float, Field(gt=0, le=1e6)] | None = None
    grinder_per_mh: Annotated[float, Field(ge=0, le=1e6)] | None = None
    compound_per_bag: Annotated[float, Field(gt=0, le=1e6)] | None = None
    primer_per_m2: Annotated[float, Field(ge=0, le=1e6)] | None = None
    patch_per_bag: (
        Annotated[float, Field(gt=0, le=1e6, description="Absent: as dear as 1.25 bags of compound.")] | None
    ) = None


class Versions(Document):
    """Which versions of the firm's own books count; absent: the newest valid one, else the starter."""

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
    scope: ScopeDocument = ScopeDocument()
    limits: LimitsDocument = LimitsDocument()
    climate: ClimateDocument = ClimateDocument()
    planning: PlanningDocument = PlanningDocument()


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
    scope: ScopeDocument | None = None
    limits: LimitsDocument | None = None
    climate: ClimateDocument | None = None
    planning: PlanningDocument | None = None
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
